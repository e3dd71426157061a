// The catalogue of texts: a few files for each language, so that a language is added with its
// folder and without a change of a script. Numbers and plurals follow the language.

/** What every screen needs; the other subjects come with the screens that need them (routes.js). */
const FIRST = "page";

const AGAIN_MS = 1500;

/** The list of the languages, made by the service of the folders beside these files. */
const LIST = "/words/languages.json";

/** Load the tags of all languages that there are texts in. @returns {Promise<string[]>} */
export const loadLanguages = () => readPart(LIST);

/** What a language is called in itself. */
export function ownName(language) {
  const name = new Intl.DisplayNames([language], { type: "language" }).of(language);
  return name.charAt(0).toLocaleUpperCase(language) + name.slice(1);
}

/** The language of a tag, or of what it begins with: `it` for `it-CH`; else English. */
export function nearestLanguage(languages, wanted) {
  const parts = wanted.toLowerCase().split("-");
  const tags = parts.map((_, index) => parts.slice(0, parts.length - index).join("-"));
  return tags.map((tag) => languages.find((one) => one.toLowerCase() === tag)).find(Boolean) ?? "en";
}

/** Load a language, with `more` subjects. @returns {Promise<function>} the catalogue; see createWords */
export async function loadWords(language, more = []) {
  const t = createWords(language, {});
  await t.need([FIRST, ...more], { untilItComes: true });
  return t;
}

/** Request a file; until it comes where the page would stay blank without its texts. */
async function readPart(address, untilItComes = true) {
  const answer = await fetch(address).catch((error) => {
    if (!untilItComes) throw error;
  });
  if (!answer) {
    await new Promise((resolve) => { setTimeout(resolve, AGAIN_MS); });
    return readPart(address);
  }
  if (!answer.ok) throw new Error(`${address}: ${answer.status}`);
  return answer.json();
}

/** A catalogue of loaded texts. @param {Object} texts nested by screen */
function createWords(language, texts) {
  const plural = new Intl.PluralRules(language);
  const subjects = new Map();

  function find(key) {
    return key.split(".").reduce((part, name) => part?.[name], texts);
  }

  /**
   * The text of a key. `{name}` is replaced by the value of that name; `count` chooses between the
   * plural forms one and other. For a missing key the key itself is returned.
   */
  function t(key, values = {}) {
    const found = find(key);
    const text = found && typeof found === "object" ? found[plural.select(values.count)] ?? found.other : found;
    if (text === undefined) return key;
    return text.replace(/\{(\w+)\}/g, (_, name) => shown(values[name]));
  }

  function shown(value) {
    return typeof value === "number" ? number(value, 2) : String(value ?? "");
  }

  /** A number as this language writes it, with at most `digits` decimals. */
  function number(value, digits = 0) {
    return new Intl.NumberFormat(language, { maximumFractionDigits: digits, useGrouping: false }).format(value);
  }

  /**
   * Load subjects that are not there yet.
   * @param {string[]} named Names of files of this language, without their ending.
   * @returns {Promise} rejected where one cannot be loaded; it is asked for anew next time
   */
  t.need = (named, { untilItComes = false } = {}) => Promise.all(named.map((subject) => {
    if (!subjects.has(subject)) {
      const coming = readPart(`/words/${language}/${subject}.json`, untilItComes).then((part) => Object.assign(texts, part));
      subjects.set(subject, coming);
      coming.catch(() => subjects.delete(subject));
    }
    return subjects.get(subject);
  }));
  /** Whether the catalogue has this text. */
  t.has = (key) => find(key) !== undefined;
  t.number = number;
  t.language = language;
  return t;
}

/** The text of a problem: from the catalogue, or the service's own for an unknown code. */
export function problemText(t, problem) {
  const key = `problem.${problem.code}`;
  return t.has(key) ? t(key, { detail: problem.detail }) : problem.detail || t("problem.unknown");
}
