/* The round page: keys, instant marks, the minute of each panel group, a draft until it is saved.
   The marks come from the same limits as the server's; the server decides when it is saved. */
(() => {
  const DRAFTS = "round/";
  const saved = document.querySelector("[data-saved]");
  if (saved) forget(saved.dataset.saved);
  const form = document.querySelector("[data-round]");
  const cells = [...document.querySelectorAll("[data-cell]")];
  if (cells.length) moveWithEnter();
  if (!form) return;

  const marks = new Map(
    [...document.querySelector("[data-marks]").content.querySelectorAll("[data-level]")]
      .map((mark) => [mark.dataset.level, mark]),
  );
  const codes = { "/": "not-running", "*": "meter-faulty", "-": "not-accessible", "+": "not-read" };
  const number = /^([<>~]?)\s*([-−–]?\d+(?:[.,]\d+)?|[.,]\d+)\s*([^\d\s<>~?*+-]*(?:\/[a-zA-Z]+)?)\s*([-+?*]?)$/;

  for (const cell of cells) {
    cell.facts = JSON.parse(cell.dataset.facts);
    cell.addEventListener("input", () => { noteMinute(cell); mark(cell); });
    cell.addEventListener("focus", () => cell.select());
  }
  form.addEventListener("input", keepDraft);
  form.addEventListener("change", keepDraft);
  for (const choice of programmes()) choice.addEventListener("change", showProgramme);
  document.addEventListener("keydown", shortKeys);
  restore();

  function moveWithEnter() {
    for (const [place, cell] of cells.entries()) {
      cell.addEventListener("keydown", (event) => {
        if (event.key !== "Enter" || event.isComposing) return;
        event.preventDefault();
        const next = cells[place + 1] || cell.form.querySelector(".main-action");
        next.focus();
      });
    }
  }

  function shortKeys(event) {
    if (event.ctrlKey || event.altKey || event.metaKey || event.shiftKey) return;
    if (event.key === "F2") {
      event.preventDefault();
      const choices = programmes();
      const now = choices.findIndex((choice) => choice.checked);
      choices[(now + 1) % choices.length].checked = true;
      showProgramme();
      keepDraft();
    } else if (event.key === "F4") {
      event.preventDefault();
      document.querySelector("[data-state]").click();
    }
  }

  function programmes() { return [...form.querySelectorAll("[name=modulation]")]; }

  function band(cell) {
    const chosen = programmes().find((choice) => choice.checked);
    return cell.facts.bands[chosen ? chosen.value : "on"];
  }

  function showProgramme() {
    for (const cell of cells) {
      const edges = band(cell);
      for (const place of cell.closest("tr").querySelectorAll("[data-edge]")) {
        const value = edges[Number(place.dataset.edge)];
        place.textContent = value === null ? "" : value.toFixed(cell.facts.decimals);
      }
      mark(cell);
    }
  }

  /* What a typed text is called, as the server will call it. */
  function level(cell) {
    const text = cell.value.trim();
    if (!text) return "";
    if (codes[text]) return codes[text];
    const { low, full, step, unit, floor } = cell.facts;
    const parts = number.exec(text);
    if (!parts || (parts[3] && parts[3].toLowerCase() !== unit.toLowerCase())) return "to-re-read";
    const value = Number(parts[2].replace(",", ".").replace(/[−–]/, "-"));
    const bound = [parts[1], parts[4]].map((sign) => ({ ">": ">", "+": ">", "<": "<", "-": "<" })[sign]).find(Boolean) || "";
    if (full !== null && !bound && (value < low || value > full)) return "to-re-read";
    const beyond = beyondLimits(band(cell), value, bound);
    if (beyond) return beyond;
    if (parts[1] === "~" || /[?*]/.test(parts[4])) return "doubtful";
    if (floor !== null && Math.abs(value) > floor) return "doubtful";
    const steps = step ? (value - low) / step : 0;
    if (!bound && Math.abs(steps - Math.round(steps)) > 0.001) return "doubtful";
    const hasLimits = band(cell).some((edge, place) => place !== 2 && edge !== null);
    return hasLimits ? "normal" : "no-reference";
  }

  function beyondLimits([lowAlarm, lowWarning, , highWarning, highAlarm], value, bound) {
    if (highAlarm !== null && (value >= highAlarm || bound === ">")) return "alarm-high";
    if (lowAlarm !== null && (value <= lowAlarm || bound === "<")) return "alarm-low";
    if (highWarning !== null && (value >= highWarning || bound === ">")) return "warning-high";
    if (lowWarning !== null && (value <= lowWarning || bound === "<")) return "warning-low";
    return "";
  }

  function mark(cell) {
    const row = cell.closest("tr");
    const place = row.querySelector("[data-mark]");
    const shown = marks.get(level(cell));
    place.replaceChildren(...(shown ? [shown.cloneNode(true)] : []));
    for (const sentence of row.querySelectorAll("[data-sentence]")) sentence.hidden = true;
  }

  /* A panel group was read when its first cell is typed; the round, when the first of all is. */
  function noteMinute(cell) {
    const group = cell.closest("[data-group]").querySelector("[name^=seen-]");
    if (!group.value && !isFarSlot()) group.value = utcClock();
    const round = form.elements.observed;
    if (!form.dataset.begun && form.dataset.fresh === "yes" && round.value && round.value === round.defaultValue) round.value = utcClock();
    form.dataset.begun = "yes";
  }

  function isFarSlot() { return !form.elements.observed.defaultValue; }

  function utcClock() { return document.querySelector("[data-clock=UTC]").textContent; }

  function draftKey() { return DRAFTS + form.dataset.draft; }

  function keepDraft() {
    const values = Object.fromEntries(new FormData(form));
    delete values.csrfmiddlewaretoken;
    store(() => localStorage.setItem(draftKey(), JSON.stringify(values)));
  }

  function restore() {
    const text = store(() => localStorage.getItem(draftKey()));
    if (!text || form.dataset.fresh !== "yes") return;
    const values = JSON.parse(text);
    if (!Object.entries(values).some(([name, value]) => name.startsWith("cell-") && value)) return;
    for (const [name, value] of Object.entries(values)) {
      if (form.elements[name]) form.elements[name].value = value;
    }
    form.dataset.begun = "yes";
    showProgramme();
    const notice = document.querySelector("[data-restored]");
    notice.hidden = false;
    notice.querySelector("[data-discard]").addEventListener("click", () => {
      forget(form.dataset.draft);
      location.reload();
    });
  }

  function forget(draft) { store(() => localStorage.removeItem(`${DRAFTS}${draft}`)); }

  /* A browser may refuse its store; the page works without it. */
  function store(action) {
    try { return action(); } catch { return null; }
  }
})();
