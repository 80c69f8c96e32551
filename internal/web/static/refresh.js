"use strict";

// Asks for this page again every 10 s and swaps in what changed, so that
// scroll, focus and selection stay. When no new page comes it says so: an old
// one must not pass for the present.
const everySeconds = 10;
const selectionHoldsSeconds = 60;
const stale = document.getElementById("stale");
let renewed = Date.now();

async function fetchPage() {
  const answer = await fetch(location.href, { cache: "no-store", signal: AbortSignal.timeout(8000) });
  if (!answer.ok) throw new Error(`the daemon answered ${answer.status}`);
  return new DOMParser().parseFromString(await answer.text(), "text/html");
}

// Folded lists are known by a key of their own from one page to the next.
const folds = (main) => [...main.querySelectorAll("details")];

// place finds the focused link again after the swap: the same address, and
// among those of the same address the same place; or the same folded list.
function place(main) {
  const link = document.activeElement;
  if (link.tagName === "SUMMARY") return { key: link.parentElement.dataset.key };
  if (!main.contains(link) || !link.href) return null;
  const same = sameLinks(main, link.getAttribute("href"));
  return { href: link.getAttribute("href"), index: same.indexOf(link) };
}

function sameLinks(main, href) {
  return [...main.querySelectorAll("a")].filter((a) => a.getAttribute("href") === href);
}

function swap(page) {
  document.title = page.title;
  document.getElementById("updated").replaceWith(page.getElementById("updated"));
  const main = document.getElementById("main");
  const next = page.getElementById("main");
  if (main.innerHTML === next.innerHTML) return;
  const focus = place(main);
  const open = new Set(folds(main).filter((fold) => fold.open).map((fold) => fold.dataset.key));
  main.replaceChildren(...next.childNodes);
  for (const fold of folds(main)) fold.open = open.has(fold.dataset.key);
  if (!focus) return;
  const again = focus.href ? sameLinks(main, focus.href)[focus.index] : folds(main).find((fold) => fold.dataset.key === focus.key)?.firstElementChild;
  again?.focus({ preventScroll: true });
}

// A form that somebody fills in is not taken away.
function touched(field) {
  if (!field.options) return field.defaultValue !== undefined && field.value !== field.defaultValue;
  const first = [...field.options].findIndex((option) => option.defaultSelected);
  return field.selectedIndex !== Math.max(first, 0);
}

function writing() {
  return document.activeElement.matches("input, select") || [...document.forms].some((form) => [...form.elements].some(touched));
}

function warn(text) {
  if (stale.textContent !== text) stale.textContent = text;
  stale.hidden = false;
}

const notRenewed = (why) => warn(`Not renewed since ${new Date(renewed).toLocaleTimeString()}: ${why}. What is below may no longer hold.`);

async function renew() {
  if (document.hidden) return;
  if (writing()) {
    notRenewed("you are filling in a form");
    return;
  }
  const selecting = !document.getSelection().isCollapsed;
  if (selecting && Date.now() - renewed < selectionHoldsSeconds * 1000) return;
  try {
    swap(await fetchPage());
    renewed = Date.now();
    stale.hidden = true;
  } catch (error) {
    notRenewed(error.message);
  }
}

setInterval(renew, everySeconds * 1000);
document.addEventListener("visibilitychange", renew);
