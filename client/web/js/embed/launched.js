// The page of one launch from a learning platform: the service has put its session into the
// document. It is taken out at once and held in memory; the launch's own secret gets the next one.

/** What the service has put into this document. @returns {object|null} null: this is no launch */
export function takeLaunch() {
  const element = document.getElementById("launch");
  element?.remove();
  return element ? JSON.parse(element.textContent) : null;
}

/** The same as `parentPage`: nothing is asked of the page around, or told to it. */
export function launchPage({ token, renewal }) {
  let first = token;

  async function requestToken() {
    if (first) {
      const given = first;
      first = null;
      return given;
    }
    const answer = await fetch("/lti/renewals", {
      method: "POST", headers: { "Content-Type": "application/json" },
      body: JSON.stringify({ renewal }), credentials: "omit",
    });
    return answer.ok ? (await answer.json()).token : null;
  }

  return { requestToken, tell: () => {}, viewPx: () => window.innerHeight };
}
