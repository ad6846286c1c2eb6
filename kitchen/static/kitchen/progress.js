// Looks again at how the plan is coming along, every two seconds, without taking the page from under the reader.
// Without scripts the page loads itself anew instead.
"use strict";

const PAUSE_MILLISECONDS = 2000;

async function look() {
  let answer;
  try {
    answer = await fetch(location.href, { redirect: "manual" });
  } catch {
    return; // The line is down for a moment; the next look may come through.
  }
  if (answer.type === "opaqueredirect") {
    location.reload(); // Planning is over: the page leads on to the day.
    return;
  }
  if (!answer.ok) return;
  const fresh = new DOMParser().parseFromString(await answer.text(), "text/html").getElementById("progress");
  const shown = document.getElementById("progress");
  if (fresh && shown && fresh.innerHTML !== shown.innerHTML) shown.replaceChildren(...fresh.childNodes);
}

setInterval(look, PAUSE_MILLISECONDS);
