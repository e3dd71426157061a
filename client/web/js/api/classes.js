// Requests for people and classes; those for photos, plans and packs are in api/service.js.

import { ask, askAgain, askAll, freshKey, patch, post, put, untilTaken } from "./service.js";

const remove = (path) => ask(path, { method: "DELETE" });
/** A table is sent as the bytes of its file; the service detects the encoding. */
const table = (path, file, key) => ask(path, {
  method: "POST", headers: { "Content-Type": "text/csv", "Idempotency-Key": key }, body: file,
});

export const me = () => ask("/v1/me");
export const deleteMe = () => remove("/v1/me");
export const EXPORT = "/v1/me/export";
export const makeTutor = (name) => post("/v1/tutors", { name });
export const signIn = (key) => post("/v1/sign-in", { key });
export const signOut = () => remove("/v1/sign-in");
export const keys = () => askAll("/v1/me/keys");
export const issueKey = (label) => post("/v1/me/keys", { label });
export const withdrawKey = (id) => remove(`/v1/me/keys/${id}`);

/** Course sites that act for the tutor, each with its own key. */
export const sites = () => askAll("/v1/sites");
export const makeSite = (name) => post("/v1/sites", { name });
export const withdrawSite = (id) => remove(`/v1/sites/${id}`);

export const takeNewKey = (secret) => post("/v1/key-links", { secret });

export const fetchJoinCode = (code) => ask(`/v1/join?code=${encodeURIComponent(code)}`);
export const join = (body) => post("/v1/join", body);

export const classes = () => askAll("/v1/classes");
export const makeClass = (body, key) => post("/v1/classes", body, { key });
export const oneClass = (id) => ask(`/v1/classes/${id}`);
export const changeClass = (id, changes) => patch(`/v1/classes/${id}`, changes);
export const deleteClass = (id) => remove(`/v1/classes/${id}`);
export const board = (id) => askAgain(`/v1/classes/${id}/board`);
export const joinPicture = (id) => `/v1/classes/${id}/join.svg`;

const student = (classId, id) => `/v1/classes/${classId}/students/${id}`;
const studentKey = (classId, id) => `/v1/classes/${classId}/student-keys/${id}`;
export const students = (id) => ask(`/v1/classes/${id}/students`);
export const addStudents = (id, text) => post(`/v1/classes/${id}/students`, { text }, { key: freshKey() });
export const addTable = (id, file) => table(`/v1/classes/${id}/students`, file, freshKey());
export const orderStudents = (id, order) => patch(`/v1/classes/${id}/students`, { order });
export const changeStudent = (classId, id, changes) => patch(student(classId, id), changes);
export const deleteStudent = (classId, id) => remove(student(classId, id));
export const newKey = (classId, id) => post(studentKey(classId, id), { label: "" });
export const newKeyLink = (classId, id) => ask(`${studentKey(classId, id)}/links`, { method: "POST" });
export const freePlace = (classId, id) => remove(studentKey(classId, id));
export const markPack = (id, marks) => patch(`/v1/packs/${id}`, marks);

export const packsNumbered = (id, number) => ask(`/v1/classes/${id}/packs?number=${encodeURIComponent(number)}`);
export const copyClass = (id, body, key) => post(`/v1/classes/${id}/copies`, body, { key });
export const setPicture = (id, body) => put(`/v1/classes/${id}/picture`, body);
export const removePicture = (id) => remove(`/v1/classes/${id}/picture`);
export const tutors = (id) => ask(`/v1/classes/${id}/tutors`);
/** A tutor's own id is the id under which the page puts them. */
export const addTutor = (classId, id) => put(`/v1/classes/${classId}/tutors/by-external-id/${encodeURIComponent(id)}`, { tutor_id: id });
export const removeTutor = (classId, id) => remove(`/v1/classes/${classId}/tutors/${id}`);

export const batches = (id) => askAll(`/v1/classes/${id}/batches`);
export const estimate = (id, body) => post(`/v1/classes/${id}/batches/estimate`, body);
export const makeBatch = (id, body, key, onWait) => untilTaken(`/v1/classes/${id}/batches`, body, key, onWait);
export const batch = (id) => askAgain(`/v1/batches/${id}`);
/** Cancel the packs that are not made yet, or delete a batch that has ended. */
export const endBatch = (id) => remove(`/v1/batches/${id}`);
