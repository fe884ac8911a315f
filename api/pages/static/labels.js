// What this page says, in the language it was asked for: every word comes from api/labels.

const { language, texts } = JSON.parse(document.getElementById("labels").textContent);
const plural = new Intl.PluralRules(language);

export { language };

// A label, filled in: t("common.at_least", { limit: "2", unit: "mm" }). A label that counts is chosen by `count`.
export function t(key, values = {}) {
  const label = texts[key];
  if (label === undefined) throw new Error(`There is no label ${key}.`);
  const chosen = typeof label === "string" ? label : label[plural.select(values.count)] ?? label.other;
  return chosen.replace(/\{([a-z_]+)\}/gu, (_, name) => String(values[name]));
}

// What a word of the ledger is called: named("common.verdict", "conforming"); the word itself, made
// readable, where nothing calls it otherwise.
export function named(group, word) {
  const label = texts[`${group}.${word}`];
  return typeof label === "string" ? label : String(word).replaceAll("-", " ").replaceAll("_", " ");
}
