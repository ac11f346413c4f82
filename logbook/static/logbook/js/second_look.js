/* What a value far from its expected one may have been meant as: the twin of what the server asks
   after saving, in its order and within its reach, so that the question comes while the meter is
   still in sight. Numbers in, questions out: the page is not touched here. */
const secondLook = (() => {
  const NEAR_SIGMAS = 3;
  const FACTORS = [10, 0.1, 100, 0.01, 1000, 0.001];
  const RATIO_WITHIN = 0.05;
  const NEAR_ONE = 0.06;
  const FEWEST_WITH_ONE_RATIO = 4;

  /* Every question about the fields of a page in the order of its sheet. A field is its name, its
     value (null where it holds no number), whether it is confirmed, and the facts of its expected
     value. Where one ratio explains the page, it is the only question. */
  function questions(fields) {
    const read = fields.filter((field) => field.value !== null);
    const ratio = commonRatio(read.filter(goesWithPower).map(({ value, facts }) => value / facts.expected));
    if (ratio !== null) return { ratio, looks: [] };
    const swapped = swappedPairs(read, new Map(fields.map(({ name, facts }) => [name, facts.pair])));
    const asked = new Set(swapped.flat());
    const far = read.filter((field) => !asked.has(field) && isDoubted(field));
    return {
      ratio: null,
      looks: [
        ...swapped.map(([first, second]) => ({ name: first.name, kind: "swapped", other: second.name, offer: "" })),
        ...far.map(({ name, value, facts }) => ({ name, other: "", ...slipOf(value, facts) })),
      ],
    };
  }

  function goesWithPower({ facts }) { return facts.isPower && facts.expected > 0; }

  function isDoubted({ value, facts, isConfirmed }) { return !isConfirmed && isFar(value, facts); }

  function isFar(value, { expected, reach }) { return Math.abs(value - expected) > reach; }

  /* The simplest slip that would have made this value of one that fits, and that one as a text. */
  function slipOf(value, facts) {
    const { expected, sigma, step, decimals, isInverse } = facts;
    const within = Math.max(NEAR_SIGMAS * sigma, step);
    const away = (candidate) => Math.abs(candidate - expected);
    const tried = [
      ["decimal", decimalPoints(value)],
      ["turned", turned(value, decimals)],
      ["inverse", isInverse && value > 0 ? [1 / value] : []],
      ["digit", oneDigit(value, decimals)],
    ];
    for (const [kind, candidates] of tried) {
      const near = candidates.filter((candidate) => away(candidate) <= within);
      if (!near.length) continue;
      const nearest = near.reduce((best, one) => (away(one) < away(best) ? one : best));
      return { kind, offer: fixed(nearest, decimals) };
    }
    return { kind: "", offer: "" };
  }

  function decimalPoints(value) { return FACTORS.map((factor) => Number((value * factor).toFixed(9))); }

  function turned(value, decimals) {
    const text = fixed(Math.abs(value), decimals);
    const places = placesOfDigits(text);
    return places.slice(1).flatMap((place, number) => {
      const before = places[number], signs = [...text];
      [signs[before], signs[place]] = [signs[place], signs[before]];
      return signs.join("") === text ? [] : [signed(signs.join(""), value)];
    });
  }

  function oneDigit(value, decimals) {
    const text = fixed(Math.abs(value), decimals);
    return placesOfDigits(text).flatMap((place) =>
      [..."0123456789"]
        .filter((digit) => digit !== text[place])
        .map((digit) => signed(text.slice(0, place) + digit + text.slice(place + 1), value)));
  }

  function placesOfDigits(text) { return [...text].flatMap((sign, place) => (/\d/.test(sign) ? [place] : [])); }

  function signed(text, like) { return like < 0 ? -Number(text) : Number(text); }

  /* With the meter's decimals, as the server writes them: an exact half goes to the even digit. */
  function fixed(value, decimals) {
    if (!(Math.abs(value) < 1e21)) return String(value);  // beyond any scale, and no longer digits
    const [whole, part] = value.toFixed(100).split(".");
    const below = decimals ? `${whole}.${part.slice(0, decimals)}` : whole;
    const isHalf = /^50*$/.test(part.slice(decimals));
    return isHalf && Number(below.at(-1)) % 2 === 0 ? below : value.toFixed(decimals);
  }

  /* Those next to each other whose values fit each other's place alone; who has confirmed one of
     them has answered already. */
  function swappedPairs(read, pairOf) {
    const neighbours = read.slice(1).map((second, number) => [read[number], second]);
    return neighbours.filter(([first, second]) =>
      isDoubted(first) && isDoubted(second) && isAlike(first, second, pairOf)
      && !isFar(first.value, second.facts) && !isFar(second.value, first.facts));
  }

  /* Each names the next of its quantity and stage; blank ones between two are passed over. */
  function isAlike(first, second, pairOf) {
    let name = first.facts.pair;
    while (name && name !== second.name) name = pairOf.get(name);
    return Boolean(name);
  }

  /* The ratio to what is expected that most of these share, null where they do not. */
  function commonRatio(ratios) {
    if (ratios.length < FEWEST_WITH_ONE_RATIO) return null;
    const middle = median(ratios);
    const together = ratios.filter((ratio) => Math.abs(ratio / middle - 1) <= RATIO_WITHIN).length;
    const isOneCause = together >= Math.max(FEWEST_WITH_ONE_RATIO, (2 * ratios.length) / 3);
    return isOneCause && Math.abs(middle - 1) > NEAR_ONE ? middle : null;
  }

  function median(values) {
    const sorted = [...values].sort((one, other) => one - other);
    const half = sorted.length / 2;
    return (sorted[Math.ceil(half) - 1] + sorted[Math.floor(half)]) / 2;
  }

  return { questions, isDoubted, fixed };
})();
