// The desk works without this: forms and links do everything. It adds the keys, verdicts
// without a new page, and what others have decided meanwhile.
"use strict";
(() => {
  const one = (selector, within = document) => within.querySelector(selector);
  const all = (selector, within = document) => [...within.querySelectorAll(selector)];
  const news = one("#news"), form = one("#verdict-form"), decide = one("#decide");
  let seen = Number(document.body.dataset.seen), asked = "";
  const rows = all("#worklist tbody tr");
  let at = -1;

  const say = (text, warn) => {
    news.hidden = false;
    news.className = warn ? "warn" : "";
    news.textContent = text;
  };
  all(".keys").forEach((p) => { p.hidden = false; });

  // The row the keys are at.
  const go = (to) => {
    if (!rows.length) return;
    if (rows[at]) rows[at].classList.remove("at");
    at = Math.max(0, Math.min(rows.length - 1, to));
    rows[at].classList.add("at");
    rows[at].scrollIntoView({ block: "nearest" });
  };
  const box = (row) => one("input[name=event]", row);

  // The state of a review, after a verdict from here or elsewhere.
  const show = (change) => {
    rows.filter((row) => row.dataset.event === change.lead).forEach((row) => {
      row.classList.toggle("quiet", !change.open);
      row.classList.add("changed");
      one(".state", row).textContent = change.words;
    });
    all("dd.state").filter((d) => d.dataset.lead === change.lead).forEach((d) => {
      d.textContent = change.words;
      d.classList.add("changed");
    });
  };

  // A verdict: begin marks what is asked, and send notes it.
  const begin = (verdict) => {
    if (!decide) return;
    if (rows.length && !all("input[name=event]:checked", form).length) {
      if (at < 0) go(0);
      box(rows[at]).checked = true;
    }
    asked = verdict;
    decide.classList.add("now");
    all("button[name=verdict]").forEach((b) => b.classList.toggle("asked", b.value === asked));
    const by = one("input[name=by]", form);
    (!by.value ? by : one(asked === "false" ? "input[name=cause]" : "input[name=comment]", form)).focus();
  };
  const leave = () => {
    asked = "";
    if (!decide) return;
    decide.classList.remove("now");
    all("button.asked").forEach((b) => b.classList.remove("asked"));
    if (document.activeElement && document.activeElement !== document.body) document.activeElement.blur();
  };
  // Keys pressed before the desk has answered wait for it: none lands in a field that is
  // done with, and none leaves the page under a verdict.
  let sending = false;
  const waiting = [];
  const send = async (verdict, anyway) => {
    if (sending) return;
    sending = true;
    const field = document.activeElement;
    if (field && field !== document.body) field.blur();
    const noted = await deliver(verdict, anyway);
    sending = false;
    const keys = waiting.splice(0);
    if (noted) keys.forEach(act);
    else if (field && field !== document.body) field.focus();
  };
  const deliver = async (verdict, anyway) => {
    const data = new URLSearchParams(new FormData(form));
    data.set("verdict", verdict);
    data.set("seen", String(seen));
    if (anyway) data.set("anyway", "yes");
    let answer, code = 0;
    try {
      const reply = await fetch("/verdict", { method: "POST", body: data, headers: { Accept: "application/json" } });
      code = reply.status;
      answer = await reply.json();
    } catch (error) {
      say("The desk does not answer: is it still running? Nothing was recorded.", true);
      return false;
    }
    if (code === 409) {
      say(answer.words + " What you wrote stays in its fields. ", true);
      if (!answer.again) return false;
      const again = document.createElement("button");
      again.textContent = "Record my verdict anyway";
      again.addEventListener("click", () => send(verdict, true));
      news.append(again);
      return false;
    }
    if (code !== 200) {
      say(answer.words, true);
      return false;
    }
    seen = Math.max(seen, answer.seen);
    answer.changed.forEach(show);
    leave();
    say(answer.words);
    if (rows.length) {
      all("input[name=event]:checked", form).forEach((b) => { b.checked = false; });
      all("input[name=cause], input[name=comment]", form).forEach((i) => { i.value = ""; });
      if (at >= 0) go(at + 1);
    } else {
      all("input[name=cause], input[name=comment]", form).forEach((i) => { i.value = ""; });
    }
    return true;
  };
  if (form && decide) {
    form.addEventListener("submit", (event) => {
      event.preventDefault();
      const pressed = event.submitter && event.submitter.value;
      send(asked || pressed, false);
    });
    // Enter in a field presses the first button, which is not the verdict asked for.
    all("button[name=verdict]").forEach((b) => b.addEventListener("click", (event) => {
      if (event.detail !== 0 || !asked) asked = b.value;
    }));
  }

  document.addEventListener("keydown", (event) => {
    if (event.key === "Escape") {
      leave();
      return;
    }
    if (event.ctrlKey || event.altKey || event.metaKey || event.target.matches("input:not([type=checkbox]), select, textarea")) return;
    if (event.key === "Enter" && event.target.matches("a, button, summary")) return;
    if (sending) waiting.push(event.key);
    else if (!act(event.key)) return;
    event.preventDefault();
  });

  // act does what a key says; false where it says nothing.
  const act = (key) => {
    const click = (selector) => { const link = one(selector); if (link) link.click(); };
    switch (key) {
      case "j": case "ArrowDown": if (!rows.length) return false; go(at + 1); break;
      case "k": case "ArrowUp": if (!rows.length) return false; go(at - 1); break;
      case "x": if (at >= 0) box(rows[at]).checked = !box(rows[at]).checked; break;
      case "Enter": if (at >= 0) one("a", rows[at]).click(); break;
      case "v": begin("valid"); break;
      case "f": begin("false"); break;
      case "u": begin("follow-up"); break;
      case "n": click("#next"); break;
      case "p": click("#previous"); break;
      case "w": click("#to-worklist"); break;
      default: return false;
    }
    return true;
  };

  // What others decide. A hidden page does not listen: browsers allow few connections.
  let stream = null;
  const listen = () => {
    if (stream || document.hidden) return;
    stream = new EventSource("/changes?since=" + seen);
    stream.addEventListener("verdict", (event) => {
      seen = Math.max(seen, Number(event.lastEventId));
      show(JSON.parse(event.data));
    });
    stream.addEventListener("tables", () => {
      say("A scan has written to the archive. ");
      const load = document.createElement("a");
      load.href = location.href;
      load.textContent = "Load the page again";
      news.append(load);
    });
  };
  document.addEventListener("visibilitychange", () => {
    if (document.hidden && stream) { stream.close(); stream = null; }
    listen();
  });
  addEventListener("pagehide", () => { if (stream) { stream.close(); stream = null; } });
  addEventListener("pageshow", listen);
  if (form) listen();

  // Parts that take a moment come after the page.
  all("[data-load]").forEach(async (section) => {
    try {
      const reply = await fetch(section.dataset.load);
      if (!reply.ok) return;
      const page = new DOMParser().parseFromString(await reply.text(), "text/html");
      const part = page.querySelector("#part");
      if (part) one("p", section).replaceWith(document.importNode(part, true));
    } catch (error) { /* the link stays */ }
  });
})();
