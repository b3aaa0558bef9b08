// A form that records: what cannot be sent now is kept on the phone. Without this script the
// form is sent as any other.
"use strict";
(() => {
  const form = document.getElementById("record");
  if (!form) return;
  const refused = document.getElementById("refused");
  const kept = document.getElementById("kept");
  const OURS = new Set(["form_key", "token", "back", "by", "pad"]);
  const asked = new URLSearchParams(location.search);
  const buttons = () => form.querySelectorAll(".by button");
  const say = (where, text) => { where.textContent = text; where.hidden = !text; };

  const anew = () => { form.elements.token.value = unsent.newToken(); };
  const words = () => {
    const given = new FormData(form);
    const found = Object.fromEntries([...given].filter(([name]) => !OURS.has(name)));
    return given.has("pad") ? { ...found, pad: given.getAll("pad") } : found;
  };
  const fill = (said) => {
    for (const [name, value] of Object.entries(said)) {
      if (name === "pad") { form.querySelectorAll("[name=pad]").forEach((each, at) => { each.value = value[at] || ""; }); continue; }
      const field = form.elements[name];
      if (!field) continue;
      if (field.type === "checkbox") field.checked = Boolean(value);
      else field.value = value;
      const hidden = field.closest("details");
      if (hidden && value) hidden.open = true;
    }
  };
  const title = () => {
    const batch = form.elements.batch;
    const about = batch?.selectedOptions?.[0]?.textContent || document.querySelector(".about")?.textContent || form.elements.cultivar?.value || "";
    return `${document.querySelector("h1").textContent} ${about}`.trim();
  };

  let mended;
  const open = async () => {
    anew();
    fill(Object.fromEntries([...asked].filter(([name]) => name !== "unsent" && !OURS.has(name))));
    mended = asked.has("unsent") ? (await unsent.all()).find((each) => each.token === asked.get("unsent")) : undefined;
    if (!mended) return;
    fill(mended.words);
    say(refused, speak("Not taken, because {why}", { why: mended.refused }));
  };
  open();
  addEventListener("pageshow", (event) => { if (event.persisted) anew(); });

  form.addEventListener("submit", async (event) => {
    event.preventDefault();
    const by = event.submitter?.name === "by" ? event.submitter.value : form.elements.by?.value || "";
    buttons().forEach((each) => { each.disabled = true; });
    say(refused, "");
    say(kept, "");
    const item = unsent.note(form.dataset.verb, by, words(), title(), form.elements.token.value);
    if (mended) Object.assign(item, { written: mended.written, seen: mended.seen, origin: mended.origin, tick: mended.tick });
    try {
      await unsent.put(item);
    } catch {
      form.append(Object.assign(document.createElement("input"), { type: "hidden", name: "by", value: by }));
      form.submit();
      return;
    }
    const told = await unsent.send(item);
    if (mended && !told.refused) { await unsent.drop(mended.token); mended = undefined; }
    if (told.page) { location.assign(told.page); return; }
    buttons().forEach((each) => { each.disabled = false; });
    if (told.refused) {
      await unsent.drop(item.token);
      say(refused, told.refused);
      refused.scrollIntoView({ block: "center" });
    } else {
      form.reset();
      anew();
      say(kept, speak("Kept on this phone. It is sent by itself as soon as the monitor can be reached."));
      kept.scrollIntoView({ block: "center" });
    }
  });

  for (const field of form.querySelectorAll(".pad input")) {
    const name = field.parentElement.querySelector(".length");
    const more = document.createElement("button");
    more.type = "button";
    more.className = "plain";
    more.textContent = name.textContent;
    more.setAttribute("aria-label", speak("one more of {length}", { length: name.textContent }));
    more.addEventListener("click", () => { field.value = Number(field.value || 0) + 1; });
    name.replaceChildren(more);
  }
})();
