// What the pages of the bench do more of where scripts run; all else works without.
"use strict";

const WAIT_MS = 300;
const said = document.querySelector(".said");

function say(text) {
  if (said) said.textContent = text;
}

// A part drawn anew keeps open what was open, and the focus where it was.
function put(part, html) {
  const open = new Set([...part.querySelectorAll("details[open][id]")].map((one) => one.id));
  const focused = part.contains(document.activeElement) && document.activeElement.closest("[id]");
  const fresh = document.createElement("template");
  fresh.innerHTML = html;
  for (const one of fresh.content.querySelectorAll("details[id]")) one.open = open.has(one.id);
  part.replaceChildren(fresh.content);
  nameFields(part);
  if (focused && focused.id) document.getElementById(focused.id)?.focus();
  part.dispatchEvent(new CustomEvent("part", { bubbles: true }));
}

// A fault apart from its field says which it is of, as the field itself is named.
function nameFields(within) {
  for (const way of within.querySelectorAll(':is(.faults, .reasons) a[href^="#f-"]')) {
    const of = CSS.escape(way.hash.slice(1));
    const label = document.querySelector(`label[for="${of}"], #${of} > legend`);
    const name = label?.firstChild?.textContent.trim();
    if (name) way.prepend(`${name}: `);
  }
}

function typedIn(form) {
  const kept = [...new FormData(form)].filter(([, value]) => typeof value === "string");
  return new URLSearchParams(kept);
}

// Whether a form holds other than it came with: typed before this script was there.
function isTypedIn(form) {
  const asItCame = form.cloneNode(true);
  asItCame.reset();
  return `${typedIn(asItCame)}` !== `${typedIn(form)}`;
}

// form[data-live=ID] is sent while one types, and the part of that id drawn anew.
function live(form) {
  const part = document.getElementById(form.dataset.live);
  if (!part) return;
  let timer;
  let asking;

  async function ask() {
    asking?.abort();
    asking = new AbortController();
    part.setAttribute("aria-busy", "true");
    try {
      const answer = await fetch(form.action, {
        method: "POST",
        body: typedIn(form),
        headers: { "X-Part": part.id },
        signal: asking.signal,
        redirect: "error",
      });
      if (answer.headers.get("X-Part") !== part.id) throw new Error("no part");
      put(part, await answer.text());
      say("");
      const told = part.querySelector("[data-say]");
      if (told) say(told.dataset.say);
    } catch (trouble) {
      if (trouble.name === "AbortError") return;
      say("No answer just now: what is shown is from before. Load the page again.");
    }
    part.removeAttribute("aria-busy");
  }

  function soon() {
    clearTimeout(timer);
    timer = setTimeout(ask, WAIT_MS);
  }
  form.addEventListener("input", soon);
  form.addEventListener("change", soon);
  form.addEventListener("reset", soon);
  if (isTypedIn(form)) soon();
}

// A part with data-poll=SECONDS is fetched anew until it comes without.
function poll(part) {
  setTimeout(async () => {
    try {
      const answer = await fetch(location.href);
      const page = new DOMParser().parseFromString(await answer.text(), "text/html");
      const fresh = page.getElementById(part.id);
      if (!fresh) return location.reload();
      put(part, fresh.innerHTML);
      if (fresh.dataset.poll) return poll(part);
      say(fresh.dataset.said || "Done.");
    } catch {
      poll(part);
    }
  }, Number(part.dataset.poll) * 1000);
}

// A form that was sent is not sent again by a second press.
function once(form) {
  form.addEventListener("submit", (event) => {
    if (form.dataset.sent) event.preventDefault();
    form.dataset.sent = "1";
    setTimeout(() => delete form.dataset.sent, 4000);
  });
}

nameFields(document);
for (const form of document.querySelectorAll("form[data-live]")) live(form);
for (const part of document.querySelectorAll("[data-poll][id]")) poll(part);
for (const mark of document.querySelectorAll("form input[name=_once]")) once(mark.form);
// Whoever has begun elsewhere, before this script was there, is left where they are.
if (!document.activeElement?.matches("a, button, input, select, summary, textarea")) {
  document.querySelector("[data-focus]")?.focus();
}

// A slide beside a field of per cent: either moves the other.
for (const slide of document.querySelectorAll("[data-slide]")) {
  const range = slide.querySelector("input");
  const field = document.getElementById(slide.dataset.slide);
  slide.hidden = false;
  range.addEventListener("input", () => {
    field.value = range.value;
    field.dispatchEvent(new Event("input", { bubbles: true }));
  });
  const follow = () => {
    if (/^[+-]?\d+$/.test(field.value)) range.value = field.value;
  };
  field.addEventListener("input", follow);
  follow();
}

// button[data-copy=ID] copies what stands in that field; shown where scripts run.
for (const button of document.querySelectorAll("[data-copy]")) {
  button.hidden = false;
  button.addEventListener("click", async () => {
    const field = document.getElementById(button.dataset.copy);
    field.select();
    try {
      await navigator.clipboard.writeText(field.value);
      say("Copied.");
    } catch {
      say("It is marked: copy it with the keys or the menu of your browser.");
    }
  });
}

// [data-ran=SECONDS] counts on, in minutes and seconds, from when it was drawn.
for (const clock of document.querySelectorAll("[data-ran]")) {
  const began = Date.now() - Number(clock.dataset.ran) * 1000;
  const tick = () => {
    const ran = Math.floor((Date.now() - began) / 1000);
    clock.textContent = `${Math.floor(ran / 60)} min ${ran % 60} s`;
  };
  tick();
  setInterval(tick, 1000);
}
