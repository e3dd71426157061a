// A server that speaks the protocol of Amazon S3 and keeps objects in a folder (s3rver, MIT).
// It checks signatures and how long presigned addresses last; its login is S3RVER, S3RVER.
// Usage: node bucket_server.cjs PACKAGES FOLDER PORT BUCKET
const [packages, directory, port, name] = process.argv.slice(2);
const S3rver = require(`${packages}/@20minutes/s3rver`);

const server = new S3rver({
  address: "127.0.0.1",
  port: Number(port),
  directory,
  silent: true,
  configureBuckets: [{ name }],
});
server.run().then(() => console.log("The bucket is ready."));
for (const signal of ["SIGTERM", "SIGINT"]) process.on(signal, () => process.exit(0));
