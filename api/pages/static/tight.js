// What is needed at the bench fits on one screen: where more is to be said, what is read from near
// gives way, in the column that needs the room, in as many steps as it takes (data-next and data-last
// of main; benchparts.css says what each step does).

const MOST = 4;
const COLUMNS = ["next", "last"];

let screen_ = null;
let main = null;
let asked = false;

export function open() {
  screen_ = document.querySelector(".screen");
  main = document.querySelector("main");
  const watch = new MutationObserver(soon);
  watch.observe(screen_, { subtree: true, childList: true, characterData: true, attributes: true, attributeFilter: ["hidden", "data-long", "data-pulling"] });
  addEventListener("resize", soon);
  soon();
}

function soon() {
  if (asked) return;
  asked = true;
  requestAnimationFrame(() => {
    asked = false;
    fit();
  });
}

function fit() {
  const steps = { next: 0, last: 0 };
  for (;;) {
    for (const one of COLUMNS) main.dataset[one] = String(steps[one]);
    if (screen_.getBoundingClientRect().bottom + scrollY <= innerHeight) return;
    const [first, second] = byNeed();
    if (steps[first] < MOST) steps[first] += 1;
    else if (steps[second] < MOST) steps[second] += 1;
    else return;
  }
}

// The columns, the one that needs more height first.
function byNeed() {
  main.dataset.measured = "yes";
  const height = (id) => document.getElementById(id).offsetHeight;
  const longer = height("next") >= height("last") + height("below");
  delete main.dataset.measured;
  return longer ? COLUMNS : [...COLUMNS].reverse();
}
