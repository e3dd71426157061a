// A login that began in a frame: the platform is asked to keep its secret for this browser, and
// then to authenticate the person. A platform that does not answer may still lead to a launch: the
// cookie may be kept.

import { ask, takeData } from "./storage.js";

const { next, key, value, ...platform } = takeData();
await ask(platform, { subject: "lti.put_data", key, value });
location.replace(next);
