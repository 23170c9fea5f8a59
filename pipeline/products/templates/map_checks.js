// The checks of a picked segment, what to do about the things in its way, and how soon it stops.

/** The table of the checks. */
function checksTable(segment, key) {
  const rows = SITE.details.rows[segment].filter((row) => row[0] === key);
  const head = ["Check", "Demand", "Limit", "Used", "Verdict"];
  const body = rows.flatMap((row) => checkRows(segment, key, row));
  const out = el("div", { class: "checks" },
    el("table", {},
      el("caption", {}, "Checks: what the ground asks (demand), what the set-up can do (limit), demand ÷ limit (used)"),
      el("thead", {}, el("tr", {}, ...head.map((word) => el("th", { scope: "col" }, word)))),
      el("tbody", {}, ...body)));
  const notes = checkNotes(rows);
  if (notes) out.append(el("p", { class: "note" }, notes));
  if (!SITE.details.complete) out.append(el("p", { class: "note" }, "On a network of this size the page leaves out checks that are ample; all of them are in checks.parquet."));
  return out;
}

/** What the signs in the table mean, of those that stand in it. */
function checkNotes(rows) {
  const units = rows.map((row) => SITE.details.units[row[4]]);
  return [
    rows.some((row) => row[10]) ? "± is one standard deviation of the demand, from the error of the heights and of the line; “over the limit” says how likely that error hides a demand beyond the limit." : "",
    rows.some((row) => row[9]) ? "Where grip counts, the limit is that of low grip, the least to reckon with on this surface as wet as it is; typical is what it usually gives." : "",
    units.includes("μ") ? "μ is grip: the force along the ground that the tyres can take, or must, as a part of the load on them." : "",
    units.includes("1/m") ? "1/m is one divided by the radius." : "",
    waterNote(rows),
  ].filter(Boolean).join(" ");
}

/** A unit as it follows its number: the degree sign close up, pure numbers bare. */
function unitOf(word) {
  if (word === "deg" || word === "°") return "°";
  return word === "1" || word === "" ? "" : " " + word;
}

/** As in the sentence below them: demands rounded up, limits down; finer where a pass would read as an overrun. */
function demandAndLimit(demand, limit, unit) {
  const write = (digits) => {
    const parts = 10 ** digits;
    return [demand === null ? null : Math.ceil(demand * parts - 1e-4) / parts, limit === null ? null : Math.floor(limit * parts + 1e-4) / parts];
  };
  let digits = unit === "°" ? 1 : unit === " 1/m" ? 3 : 2;
  const [up, down] = write(digits);
  if (digits === 2 && demand !== null && limit !== null && up >= down && demand < limit) digits = 3;
  return write(digits).map((value) => figure(value, digits) + (value === null ? "" : unit));
}

/** A standard deviation, with two figures that count. */
function doubtOf(deviation, unit) {
  return figure(deviation, deviation < 0.1 ? 3 : deviation < 1 ? 2 : 1) + unit;
}

function checkRows(segment, key, row) {
  const table = SITE.by_check[key * SITE.checks.length + row[1]];
  const share = table.u[segment];
  const verdict = table.v.charCodeAt(segment) - 48;
  const unit = unitOf(SITE.details.units[row[4]]);
  const deciding = SITE.judged[key].c[segment] === row[1];
  const [demand, limit] = demandAndLimit(row[2], row[3], unit);
  const first = el("tr", { class: deciding ? "deciding" : null },
    el("th", { scope: "row" }, SITE.checks[row[1]]),
    el("td", { class: "num" }, demand, row[10] ? el("small", {}, "± " + doubtOf(row[10], unit)) : ""),
    el("td", { class: "num" }, limit, row[9] ? el("small", {}, "typical " + demandAndLimit(null, row[9], unit)[1]) : ""),
    el("td", { class: "num" }, share < 0 ? "–" : figure(share / 100, 2)),
    el("td", {}, el("span", { class: "v " + SITE.verdicts[verdict].word }, SITE.verdicts[verdict].word)));
  const chance = row.length > 11 ? SITE.details.chances[row[11]] : "";
  const why = el("td", { colspan: 5 }, data(reasonOf(SITE.details.reasons, row[7], row[8])), ". ", chance ? chance + ". " : "", el("span", { class: "basis" }, "Basis: " + SITE.bases[row[5]] + "."));
  return [first, el("tr", { class: deciding ? "why deciding" : "why" }, why)];
}

// --- things in the way ---

/** What to do about every thing in the way, in the order it is met. */
function passingList(segment, key) {
  const rows = SITE.passings.rows[segment].filter((row) => row[0] === key);
  if (!rows.length) return [];
  if (key % WAYS === 1) rows.reverse();
  return [el("section", { class: "passings" }, el("h3", {}, "Things in the way, as met"), el("ol", {}, ...rows.map(passingRow)))];
}

function passingRow([, at, thing, passing, saying, figures]) {
  const word = SITE.passings.words[passing];
  return el("li", {}, el("b", {}, "At " + metres(at / 10) + ", ", data(SITE.passings.things[thing]), ": "), el("span", { class: "v " + word }, word), " ", data(reasonOf(SITE.passings.reasons, saying, figures)), ".");
}

// --- stopping ---

/** How soon it stops on the steepest descent of the segment. */
function stoppingWords(segment, key) {
  const row = SITE.stopping[segment].find((one) => one[0] === key);
  if (!row) return [];
  const [, grade, at, speed, low, typical] = row;
  const where = at === null ? "on the level" : "on its steepest descent, " + figure(grade / 10, 1) + "° at " + metres(at / 10);
  const from = "From " + figure(speed / 10, 0) + " km/h " + where + ": ";
  const far = (tenths, grip) => (tenths < 0 ? "it cannot stop at " + grip + " grip" : figure(tenths / 10, 1) + " m at " + grip + " grip");
  return [el("p", { class: low < 0 ? "warn" : "stopping" }, el("b", {}, low < 0 ? "Cannot stop. " : "Stopping distance. "), from + far(low, "low") + ", " + far(typical, "typical") + ".")];
}
