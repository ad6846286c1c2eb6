// Asks the browser to make a passkey, or to sign in with one. The form is hidden until the browser can; without scripts,
// or at another address than the kitchen's own, the page says what else works.
"use strict";

const form = document.querySelector("form[data-passkey]");
if (form) begin();

function begin() {
  document.querySelector('[data-when="silent"]').hidden = true;
  const can = window.isSecureContext && "PublicKeyCredential" in window;
  const here = location.origin === form.dataset.passkey;
  if (!can || !here) {
    document.querySelector(`[data-when="${here || !window.isSecureContext ? "insecure" : "elsewhere"}"]`).hidden = false;
    return;
  }
  form.hidden = false;
  form.addEventListener("submit", (event) => {
    event.preventDefault();
    ask();
  });
}

async function ask() {
  const button = form.querySelector("button");
  button.disabled = true;
  tell("");
  try {
    const asked = await fetch(form.dataset.begin, { method: "POST", body: new FormData(form) });
    if (!asked.ok) {
      tell((await refusal(asked)) || form.dataset.failed);
      return;
    }
    const options = await asked.json();
    const made = "new" in form.dataset ? await makeOne(options) : await findOne(options);
    form.elements.answer.value = JSON.stringify(made);
    // The password has done its work.
    if (form.elements.password) form.elements.password.value = "";
    form.submit();
  } catch (error) {
    tell(form.dataset[{ NotAllowedError: "cancelled", InvalidStateError: "known" }[error.name] || "failed"]);
  } finally {
    button.disabled = false;
  }
}

async function refusal(answer) {
  const type = answer.headers.get("Content-Type") || "";
  return type.startsWith("application/json") ? (await answer.json()).refusal : "";
}

function tell(words) {
  const place = document.querySelector("[data-told]");
  place.textContent = words;
  place.hidden = !words;
}

async function makeOne(options) {
  options.challenge = bytes(options.challenge);
  options.user.id = bytes(options.user.id);
  options.excludeCredentials = (options.excludeCredentials || []).map((one) => ({ ...one, id: bytes(one.id) }));
  const made = await navigator.credentials.create({ publicKey: options });
  return answerOf(made, ["clientDataJSON", "attestationObject"]);
}

async function findOne(options) {
  options.challenge = bytes(options.challenge);
  options.allowCredentials = [];
  const found = await navigator.credentials.get({ publicKey: options });
  return answerOf(found, ["clientDataJSON", "authenticatorData", "signature", "userHandle"]);
}

function answerOf(credential, parts) {
  const held = parts.filter((part) => credential.response[part]);
  const response = Object.fromEntries(held.map((part) => [part, text(credential.response[part])]));
  return { id: credential.id, rawId: text(credential.rawId), type: credential.type, response };
}

// Unpadded base64url (RFC 4648, 5), to bytes and back.
function bytes(words) {
  const plain = atob(words.replaceAll("-", "+").replaceAll("_", "/"));
  return Uint8Array.from(plain, (letter) => letter.charCodeAt(0));
}

function text(buffer) {
  const plain = String.fromCharCode(...new Uint8Array(buffer));
  return btoa(plain).replaceAll("+", "-").replaceAll("/", "_").replaceAll("=", "");
}
