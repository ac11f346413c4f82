/* The questions of the second look beside the cells of the round page, asked when a cell is left.
   What is offered is never taken by itself, and no cell is held up. The sentences stand in the
   page's templates. `read` gives the number of a cell, `drawMark` draws its status anew,
   `programme` names the programme that is chosen. */
const roundQuestions = (cells, { read, drawMark, programme }) => {
  const known = cells.filter((cell) => cell.dataset.expected !== undefined);
  const facts = new Map(known.map((cell) => [cell, factsOf(cell.dataset)]));
  const left = new Map();       // what each cell said when it was left last
  const shown = new Map();      // the question that stands at each cell, as a text
  const asked = new Map();      // the value of each field that a question is about, both of a pair
  const begunAnew = new Set();  // cells whose text was cleared or typed over since
  const ofPage = document.querySelector("[data-one-cause]");
  let isPressed = false, isDue = false;

  for (const cell of known) {
    cell.addEventListener("input", (event) => noteBegun(cell, event));
    cell.addEventListener("blur", () => leave(cell));
  }
  document.addEventListener("pointerdown", () => { isPressed = true; }, true);
  for (const release of ["pointerup", "pointercancel"]) document.addEventListener(release, released, true);

  function factsOf(data) {
    return {
      expected: Number(data.expected),
      sigma: Number(data.sigma),
      reach: Number(data.reach),
      step: Number(data.step),
      decimals: Number(data.decimals),
      isInverse: data.inverse === "1",
      isPower: data.power === "1",
      pair: data.pair,
    };
  }

  /* All of the text was replaced, or it was cleared before: not one digit mended. */
  function noteBegun(cell, event) {
    if (cell.value.length <= (event.data || "").length) begunAnew.add(cell);
  }

  /* The same value typed once more was read twice. What the sheet then says must stand before the
     page is sent, so it is written at once; the questions may follow. */
  function leave(cell) {
    if (document.activeElement === cell) return;  // the window was left, not the cell
    const before = left.get(cell), now = read(cell);
    const isSame = before && now && before.value === now.value && before.bound === now.bound;
    if (isSame && begunAnew.has(cell) && isDoubted(cell, now)) confirm(cell);
    begunAnew.delete(cell);
    askSoon();
  }

  function isDoubted(cell, { value, bound, isConfirmed }) {
    return !bound && holds(cell) && secondLook.isDoubted({ value, isConfirmed, facts: facts.get(cell) });
  }

  /* Whether the expected value is that of the programme which is chosen. */
  function holds(cell) { return cell.dataset.programmes.split(" ").includes(programme()); }

  function confirm(cell) {
    const reading = read(cell);
    if (reading && !reading.isConfirmed) write(cell, `${cell.value.trim()}=`);
  }

  /* As if it were typed: it is marked, and kept with the draft. */
  function write(cell, text) {
    cell.value = text;
    cell.dispatchEvent(new Event("input", { bubbles: true }));
  }

  /* A question moves what stands below it. While a pointer is pressed it waits, so that the press
     does not miss the button under it. */
  function askSoon() {
    isDue = true;
    if (!isPressed) setTimeout(ask);
  }

  function released() {
    isPressed = false;
    if (isDue) setTimeout(ask);
  }

  function ask() {
    isDue = false;
    settle();
    const found = secondLook.questions(known.filter(holds).map(fieldOf));
    const looks = new Map(found.looks.map((look) => [look.name, look]));
    const pairs = new Set(found.looks.map((look) => look.other));
    const changed = known.filter((cell) => show(cell, looks.get(cell.name)));
    for (const cell of known) noteAsked(cell, looks.has(cell.name) || pairs.has(cell.name));
    showCause(found.ratio);
    const active = document.activeElement;
    if (changed.length && cells.includes(active)) active.scrollIntoView({ block: "nearest" });
  }

  /* The cell that has the focus is still being typed. */
  function settle() {
    for (const cell of known) if (cell !== document.activeElement) left.set(cell, read(cell));
  }

  function fieldOf(cell) {
    const reading = left.get(cell);
    const { value, isConfirmed } = reading && !reading.bound ? reading : { value: null, isConfirmed: false };
    return { name: cell.name, value, isConfirmed, facts: facts.get(cell) };
  }

  function noteAsked(cell, isAbout) {
    const value = isAbout ? left.get(cell).value : undefined;
    if (asked.get(cell) === value) return;
    asked.set(cell, value);
    drawMark(cell);
  }

  /* Whether a question is about what the cell says now: not while it is typed anew. */
  function isAsked(cell) {
    const reading = read(cell);
    return reading !== null && asked.get(cell) === reading.value;
  }

  /* Drawn only when it changed: nothing is announced twice, and no button goes from under a hand.
     Whether it changed is the answer. */
  function show(cell, look) {
    const row = cell.closest("tr"), hint = row.querySelector("[data-hint]");
    const place = row.querySelector("[data-asked]"), isHeld = place.contains(document.activeElement);
    const now = look && JSON.stringify([look, left.get(cell).value]);
    hint.hidden = !holds(cell) || Boolean(look && look.kind !== "swapped");
    if (shown.get(cell) === now) return false;
    shown.set(cell, now);
    place.replaceChildren(...(look ? [question(cell, look)] : []));
    describe(cell, Boolean(look));
    if (isHeld) (place.querySelector("button") || after(cell)).focus();
    return true;
  }

  /* Where Tab was going when it met a question that was answered by what was typed before it. */
  function after(cell) { return cells[cells.indexOf(cell) + 1] || cell.form.querySelector(".main-action"); }

  function describe(cell, hasQuestion) {
    const sentence = `${cell.id}-asked`;
    const ids = cell.getAttribute("aria-describedby").split(" ").filter((id) => id !== sentence);
    cell.setAttribute("aria-describedby", (hasQuestion ? [...ids, sentence] : ids).join(" "));
  }

  function question(cell, look) {
    const other = known.find((one) => one.name === look.other);
    const copy = filled(other ? "swapped" : "far", {
      ...wordsOf(cell),
      other: other ? labelOf(other) : "",
      offer: look.offer,
    });
    copy.querySelector("p").id = `${cell.id}-asked`;
    for (const part of copy.querySelectorAll("[data-slip]")) {
      if (part.dataset.slip !== look.kind) part.remove();
    }
    const [take, stand] = ["take", "stand"].map((way) => copy.querySelector(`[data-${way}]`));
    if (!other && !look.offer) take.remove();
    take.addEventListener("click", () => answer(cell, () => (other ? exchange(cell, other) : write(cell, look.offer))));
    stand.addEventListener("click", () => answer(cell, () => [cell, other].filter(Boolean).forEach(confirm)));
    return copy;
  }

  /* The button that was pressed goes with its question: the hand goes back to the cell. */
  function answer(cell, change) {
    change();
    settle();
    cell.focus();
    ask();
  }

  function exchange(cell, other) {
    const text = cell.value;
    write(cell, other.value);
    write(other, text);
  }

  function showCause(ratio) {
    const text = ratio === null ? "" : secondLook.fixed(ratio, 2);
    if (ofPage.dataset.ratio === text) return;
    ofPage.dataset.ratio = text;
    ofPage.replaceChildren(...(text ? [filled("one-cause", { ratio: text })] : []));
  }

  function wordsOf(cell) {
    const { expected, sigma, decimals } = facts.get(cell);
    return {
      label: labelOf(cell),
      value: secondLook.fixed(expected, decimals),
      sigma: String(Number(sigma.toPrecision(2))),
      unit: cell.dataset.unit,
    };
  }

  function labelOf(cell) { return cell.labels[0].textContent; }

  /* A copy of the sentences of a question, with its {words}. */
  function filled(kind, words) {
    const copy = document.querySelector(`[data-question="${kind}"]`).content.cloneNode(true);
    const texts = document.createTreeWalker(copy, NodeFilter.SHOW_TEXT);
    while (texts.nextNode()) {
      const text = texts.currentNode;
      text.data = text.data.replace(/\{(\w+)\}/g, (_all, name) => words[name]);
    }
    return copy;
  }

  return { ask, isAsked };
};
