// Light or dark as it was chosen in the bench page's menu, on every page of this browser; a plain script,
// so that nothing is drawn in the other one before.

try {
  document.documentElement.dataset.colours = localStorage.getItem("witnessmark colours") ?? "auto";
} catch {
  // A browser that keeps nothing shows what the computer says.
}
