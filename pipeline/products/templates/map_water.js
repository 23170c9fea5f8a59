// Where water crosses a picked segment, and what the limits of water are.

/** Crossings in the order they are met. */
function waterList(segment, key) {
  const rows = [...SITE.crossings.rows[segment]];
  if (!rows.length) return [];
  if (key % WAYS === 1) rows.reverse();
  return [el("section", { class: "passings water" }, el("h3", {}, "Water on this trail, as met"),
    el("ol", {}, ...rows.map(([at, saying, figures]) => el("li", {}, el("b", {}, "At " + metres(at / 10) + ": "), data(reasonOf(SITE.crossings.sayings, saying, figures)), "."))))];
}

/** What the report of the limits says of them itself, where a ford is told. */
function waterNote(rows) {
  const ford = SITE.checks.indexOf("ford");
  return rows.some((row) => row[1] === ford && (row[2] === null || row[2] > 0)) ? SITE.crossings.caution : "";
}
