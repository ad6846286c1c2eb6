// Keeps the cards of the run sheet alive: clocks that count by the server's time, a look every few seconds for what
// other tablets recorded, presses that survive a bad line, and a sound when a time is up, for whoever switched it on.
// Without scripts the page shows until when, and loads itself anew.
"use strict";

const PAUSE_MILLISECONDS = 4000;
const PATIENCE_MILLISECONDS = 8000;
// A button that has just changed takes no press so long: the finger was on its way to another one.
const CHANGED_MILLISECONDS = 400;

const page = {
  ahead: -Infinity, // The server's clock before this page's own, in milliseconds.
  seenAt: 0, // When the server was last heard of.
  downSince: null,
  looking: false,
  pressing: false,
  unanswered: null, // The press that got no answer.
  changedUntil: 0,
  held: null, // What had the focus before its button was switched off.
  rung: new Set(JSON.parse(sessionStorage.getItem("run-sheet-rung") ?? "[]")),
};
const live = () => document.getElementById("live");

// The server's time, whatever this device's clock says. An answer is always older than it says, so the least delayed
// of all is the best; too late is safe, too early is not.
function heard(root) {
  const ahead = Number(root.dataset.now) - performance.now();
  if (Math.abs(ahead - page.ahead) > 5000) page.ahead = ahead; // The device slept, or this is the first answer.
  else page.ahead = Math.max(page.ahead, ahead);
  page.seenAt = now();
}

function now() {
  return performance.now() + page.ahead;
}

function wallTime(moment) {
  const zone = live().dataset.zone;
  return new Intl.DateTimeFormat("en-GB", { hour: "2-digit", minute: "2-digit", timeZone: zone }).format(moment);
}

function counted(milliseconds) {
  const seconds = Math.max(0, Math.ceil(milliseconds / 1000));
  const pad = (number) => String(number).padStart(2, "0");
  const minutes = Math.floor(seconds / 60);
  return minutes < 60
    ? `${minutes}:${pad(seconds % 60)}`
    : `${Math.floor(minutes / 60)}:${pad(minutes % 60)}:${pad(seconds % 60)}`;
}

function tick() {
  for (const clock of document.querySelectorAll("#live .clock")) {
    const left = clock.dataset.since ? now() - Number(clock.dataset.since) : Number(clock.dataset.until) - now();
    const words = left > 0 ? counted(left) : `+${counted(-left)}`;
    clock.querySelector("b").textContent = words;
    clock.classList.toggle("long", words.length > 6);
    if (left <= 0 && clock.dataset.until) ended(clock);
  }
}

function ended(clock) {
  if (page.rung.has(clock.dataset.key)) return;
  page.rung.add(clock.dataset.key);
  sessionStorage.setItem("run-sheet-rung", JSON.stringify([...page.rung]));
  const told = document.getElementById("time-is-up");
  told.textContent = `${told.dataset.words}: ${clock.closest(".now").querySelector("h2").textContent.trim()}`;
  ring();
  look();
}

// --- Sound and vibration, by consent on this device

let sound = null;

function isWanted() {
  return localStorage.getItem("run-sheet-sound") === "on";
}

function ring() {
  if (!isWanted()) return;
  if (navigator.vibrate) navigator.vibrate([400, 200, 400, 200, 400]);
  if (!sound) return;
  for (const start of [0, 0.6, 1.2]) {
    const tone = sound.createOscillator();
    const loudness = sound.createGain();
    tone.frequency.value = 880;
    loudness.gain.value = 0.4;
    tone.connect(loudness).connect(sound.destination);
    tone.start(sound.currentTime + start);
    tone.stop(sound.currentTime + start + 0.35);
  }
}

function wake() {
  if (!isWanted()) return;
  sound ??= new AudioContext();
  sound.resume();
  document.getElementById("asleep").hidden = true;
}

function showSound() {
  const button = document.getElementById("sound");
  button.setAttribute("aria-pressed", String(isWanted()));
  button.textContent = isWanted() ? button.dataset.on : button.dataset.off;
  document.getElementById("asleep").hidden = !isWanted() || sound !== null;
}

function switchSound() {
  localStorage.setItem("run-sheet-sound", isWanted() ? "off" : "on");
  wake();
  ring();
  showSound();
}

// --- The line to the server

function lineIs(up) {
  const banner = document.getElementById("line-down");
  if (up) page.downSince = null;
  else page.downSince ??= page.seenAt;
  banner.hidden = up;
  if (!up) banner.querySelector("[data-since]").textContent = wallTime(page.downSince);
  freeze();
}

// Buttons rest while the line is down, while a press waits for its answer, and just after they changed.
function freeze() {
  const still = page.downSince !== null || page.unanswered !== null || performance.now() < page.changedUntil;
  page.held = focused() ?? page.held;
  for (const button of document.querySelectorAll("#live form button, #sheets form button")) button.disabled = still;
  focusAgain();
}

function focused() {
  const it = document.activeElement;
  const card = it?.closest(".now");
  if (!card || it.disabled) return null;
  return { id: it.id, card: card.id, caret: it.type === "text" ? it.selectionStart : null };
}

// The same button or field again, if it is still there; else its card, never another button in its place.
function focusAgain() {
  const { held } = page;
  if (held === null) return;
  const now = document.activeElement;
  const same = (held.id && document.getElementById(held.id)) || document.getElementById(held.card);
  const isElsewhere = now !== null && now !== document.body && !now.disabled;
  if (!isElsewhere && same?.disabled) return; // It gets the focus back when it is switched on again.
  page.held = null;
  if (isElsewhere || !same) return;
  same.focus({ preventScroll: true });
  if (held.caret !== null) same.setSelectionRange(held.caret, held.caret);
}

async function ask(address, options) {
  const answer = await fetch(address, { ...options, signal: AbortSignal.timeout(PATIENCE_MILLISECONDS) });
  if (answer.status >= 500) throw new Error("The server is not there.");
  const fresh = new DOMParser().parseFromString(await answer.text(), "text/html");
  if (!fresh.getElementById("live")) location.reload(); // Signed out, or refused: the page itself says so.
  return fresh;
}

function here(more) {
  const address = new URL(location.href);
  for (const name of ["pressed", "of", "seen", "live"]) address.searchParams.delete(name);
  for (const [name, value] of Object.entries(more)) address.searchParams.set(name, value);
  address.hash = "";
  return address;
}

// Looks again. What became of a press without an answer is asked first; the server says it on the page.
async function look() {
  if (page.looking || page.pressing) return;
  page.looking = true;
  try {
    if (page.unanswered) {
      const fresh = await ask(here(page.unanswered));
      page.unanswered = null;
      show(fresh);
    } else {
      const fresh = await ask(here({ live: 1 }));
      heard(fresh.getElementById("live"));
      if (fresh.getElementById("live").dataset.state !== live().dataset.state) show(await ask(here({})));
    }
    lineIs(true);
  } catch {
    lineIs(false);
  } finally {
    page.looking = false;
  }
}

async function press(event) {
  const form = event.target.closest("form.press");
  if (!form) return;
  event.preventDefault();
  const said = new FormData(form, event.submitter);
  page.unanswered = {
    pressed: said.get("kind") ?? form.dataset.kind,
    of: form.dataset.load,
    seen: said.get("seen"),
  };
  page.pressing = true;
  freeze();
  try {
    const fresh = await ask(form.action, { method: "POST", body: said });
    page.unanswered = null;
    form.reset();
    form.closest("details")?.removeAttribute("open");
    show(fresh);
    lineIs(true);
  } catch {
    lineIs(false);
  } finally {
    page.pressing = false;
  }
}

// --- Taking over a fresh page without taking it from under the reader

function show(fresh) {
  heard(fresh.getElementById("live"));
  for (const note of document.querySelectorAll("main > .note[role=status]")) note.remove();
  document.getElementById("line-down").before(...fresh.querySelectorAll("main > .note[role=status]"));
  const before = offered();
  page.held = focused() ?? page.held;
  for (const id of ["live", "sheets"]) {
    const shown = document.getElementById(id);
    const next = fresh.getElementById(id);
    if (!shown || !next) continue;
    carryOver(shown, next);
    shown.replaceWith(next);
  }
  if (before !== offered()) {
    page.changedUntil = performance.now() + CHANGED_MILLISECONDS;
    setTimeout(freeze, CHANGED_MILLISECONDS + 5);
  }
  freeze();
  tick();
}

function offered() {
  return [...document.querySelectorAll("#live button.go")].map((one) => one.id).join();
}

// What somebody has typed, chosen or unfolded stays.
function carryOver(shown, next) {
  for (const field of shown.querySelectorAll("input[id], select[id]")) {
    const same = next.querySelector(`#${CSS.escape(field.id)}`);
    const isChanged = field instanceof HTMLSelectElement ? field.selectedIndex > 0 : field.value !== field.defaultValue;
    if (same && isChanged) same.value = field.value;
  }
  for (const fold of shown.querySelectorAll("details[id]")) {
    const same = next.querySelector(`#${CSS.escape(fold.id)}`);
    if (same) same.open = fold.open;
  }
}

function unfoldForPaper() {
  for (const fold of document.querySelectorAll(".sheet-of-load:not([open])")) {
    fold.open = true;
    fold.dataset.unfolded = "";
  }
}

function foldAgain() {
  for (const fold of document.querySelectorAll(".sheet-of-load[data-unfolded]")) {
    fold.open = false;
    delete fold.dataset.unfolded;
  }
}

// --- A copy, shown because the page was loaded anew without a connection

const copy = document.getElementById("copy");

// Its clocks stand still at the times of the clock on the wall, for nobody knows what happened meanwhile.
function readOnly() {
  for (const button of document.querySelectorAll("main form button")) button.disabled = true;
  const again = () => fetch(here({ live: 1 }), { redirect: "manual" }).then(() => location.reload(), () => {});
  addEventListener("online", again);
  setInterval(again, PAUSE_MILLISECONDS);
}

async function keepCopies() {
  if (!navigator.serviceWorker) return; // Only over HTTPS, or on the machine itself.
  try {
    await navigator.serviceWorker.register(copy.dataset.worker);
  } catch {
    return; // This browser keeps nothing; the page itself works as before.
  }
  const { active } = await navigator.serviceWorker.ready;
  const needed = document.querySelectorAll("link[rel=stylesheet], link[rel=icon], script[src]");
  active.postMessage({ keep: [location.href, ...[...needed].map((one) => one.href ?? one.src)] });
}

function begin() {
  heard(live());
  document.getElementById("signals").hidden = false;
  showSound();
  document.getElementById("sound").addEventListener("click", switchSound);
  document.addEventListener("pointerdown", wake);
  document.addEventListener("keydown", wake);
  document.addEventListener("submit", press);
  addEventListener("online", look);
  addEventListener("offline", () => lineIs(false));
  addEventListener("pageshow", (event) => event.persisted && look());
  document.addEventListener("visibilitychange", () => document.hidden || look());
  tick();
  setInterval(tick, 250);
  setInterval(look, PAUSE_MILLISECONDS);
  keepCopies();
}

if (copy.hidden) begin();
else readOnly();
addEventListener("beforeprint", unfoldForPaper);
addEventListener("afterprint", foldAgain);
const named = document.getElementById(location.hash.slice(1));
if (named instanceof HTMLDetailsElement) named.open = true;
