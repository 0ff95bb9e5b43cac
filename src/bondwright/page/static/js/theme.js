// Light and dark: by the system's preference, or by choice.

const KEY = "bondwright-theme";

/** @returns {string} */
export function theme() {
  try {
    return localStorage.getItem(KEY) ?? "auto";
  } catch {
    return "auto";
  }
}

/** @param {string} name "auto", "light" or "dark" */
export function setTheme(name) {
  document.documentElement.dataset["theme"] = name;
  try {
    localStorage.setItem(KEY, name);
  } catch {
    // Without storage the choice lasts as long as the page.
  }
}
