// Long sections are folded on a narrow screen, all but the one that was asked for. Without this
// script they stay open, and on paper they always are.

const narrow = matchMedia("screen and (max-width: 44rem)");
const folds = [...document.querySelectorAll("details.fold")];
let opened = [];

function asked() {
  const target = location.hash && document.getElementById(decodeURIComponent(location.hash.slice(1)));
  return target && folds.find((fold) => fold.contains(target) || target.contains(fold));
}

// A fold with something in it that must be seen says so (data-open).
function arrange() {
  for (const fold of folds) fold.open = !narrow.matches || "open" in fold.dataset || fold === asked();
}

arrange();
narrow.addEventListener("change", arrange);
if (asked()) document.getElementById(decodeURIComponent(location.hash.slice(1))).scrollIntoView();
addEventListener("hashchange", () => {
  const fold = asked();
  if (!fold || fold.open) return;
  fold.open = true;
  document.getElementById(decodeURIComponent(location.hash.slice(1))).scrollIntoView();
});
addEventListener("beforeprint", () => {
  opened = folds.filter((fold) => fold.open);
  for (const fold of folds) fold.open = true;
});
addEventListener("afterprint", () => {
  for (const fold of folds) fold.open = opened.includes(fold);
});
