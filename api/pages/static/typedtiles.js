// Tiles that are chosen by typing what stands on them: "0.35", ".35" or "35" for the leaf 0.35.

// Digits that come later than this begin anew (ms).
const PAUSE = 1500;

export function typedTiles(set) {
  set.dataset.typed = "yes";
  let text = "";
  let at = -Infinity;
  set.addEventListener("keydown", (event) => {
    if (!/^[0-9.,]$/u.test(event.key) || event.ctrlKey || event.altKey || event.metaKey) return;
    event.preventDefault();
    if (event.timeStamp - at > PAUSE) text = "";
    at = event.timeStamp;
    const key = event.key.replace(",", ".");
    const inputs = [...set.querySelectorAll(".tile input")];
    // Where nothing goes on so, the last key begins anew.
    const found = meant(inputs, text + key);
    text = found ? text + key : key;
    const input = found ?? meant(inputs, text);
    if (!input) return;
    input.focus();
    if (input.type === "radio" && !input.checked) {
      input.checked = true;
      input.dispatchEvent(new Event("change", { bubbles: true }));
      input.dispatchEvent(new Event("input", { bubbles: true }));
    }
  });
}

// The tile that is written so, with or without "0." and "."; else the first that begins so.
function meant(inputs, text) {
  const ways = inputs.filter((one) => one.value).map((one) => [one, [one.value, one.value.replace(/^0/u, ""), one.value.replace(/^0?\./u, "")]]);
  const exact = ways.find(([, names]) => names.includes(text));
  const begun = ways.find(([, names]) => names.some((name) => name.startsWith(text)));
  return (exact ?? begun)?.[0] ?? null;
}
