// A launch without a cookie: the secret of its login is asked from the platform's storage, and the
// launch is sent again with it. Without it, the launch is sent all the same, and refused with words.

import { ask, takeData } from "./storage.js";

const { key, state, id_token: token, ...platform } = takeData();
const found = await ask(platform, { subject: "lti.get_data", key });
const form = document.createElement("form");
form.method = "post";
form.action = "/lti/launch";
for (const [name, value] of Object.entries({ state, id_token: token, stored: found?.value ?? "" })) {
  const field = document.createElement("input");
  Object.assign(field, { type: "hidden", name, value });
  form.append(field);
}
document.body.append(form);
form.submit();
