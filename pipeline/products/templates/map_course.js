// The shown loop: what is proven of it, who goes round what, how the time goes, what it teaches, and its calls.

/** Show a loop (null for none); `move` brings it, or the whole network, into view. */
function showLoop(number, move) {
  choice.loop = number;
  const loop = number === null ? null : SITE.loops[number];
  drawLoop(loop);
  declutter();
  byId("course").hidden = loop === null;
  if (loop === null) {
    if (move) showAll();
    return;
  }
  byId("course-head").replaceChildren(data(loopName(loop)));
  byId("course-body").replaceChildren(
    el("p", {}, loop.objective + ", aim ", data(loop.aim), "; " + (loop.laps > 1 ? loop.laps + " laps, together " : "") + metres(loop.length) + ", about " + minutes(loop.time) + "; worst utilisation " + utilised(loop.worst) + "."),
    el("p", {}, "For ", ...loop.setups.flatMap((name, i) => [i ? ", " : "", data(name)]), "."),
    ...(loop.weather ? [el("p", { class: "warn" }, "Searched under other weather: ", data(loop.weather), ". Its verdicts and calls are of that weather.")] : []),
    el("p", {}, el("b", {}, loop.value), "; bound ", data(loop.bound), "; " + loop.proof + "."),
    ...weatherOfLoop(number),
    ...detourList(loop),
    ...sessionPlan(loop),
    ...practiceTable(loop),
    ...companyList(loop),
    loop.calls.length ? callList(loop) : el("p", {}, "No calls on this loop."),
  );
  if (move) MAP.fitBounds(L.latLngBounds(loopPoints(loop)), { padding: [30, 30] });
}

function loopName(loop) {
  return loop.rank === 1 ? loop.loop : loop.loop + ", alternative " + (loop.rank - 1);
}

function callList(loop) {
  return el("ol", { class: "calls" }, ...loop.calls.map((call) => {
    const button = el("button", { type: "button", id: "call-" + call.n },
      el("span", { class: call.spotter ? "call spotter" : "call", "aria-hidden": "true" }, String(call.n)),
      el("span", {}, el("b", {}, "At " + metres(call.at) + ": ", data(call.coming)), el("br"), data(call.before), call.spotter ? el("em", {}, " Spotter outside.") : ""));
    button.addEventListener("click", () => MAP.setView([call.lonlat[1], call.lonlat[0]], Math.max(MAP.getZoom(), 17)));
    return el("li", {}, button);
  }));
}

function showCall(number) {
  const button = byId("call-" + number);
  if (!button) return;
  bringUp(button);
  button.focus({ preventScroll: true });
}

// --- what comes with a loop ---

/** A part that opens, with a table in a frame that scrolls by itself. */
function folded(head, count, table, note) {
  return [el("details", { class: "loop-part" }, el("summary", {}, el("b", {}, head), ": " + count), el("div", { class: "part", tabindex: 0, role: "region", "aria-label": head }, table), note ? el("p", { class: "note" }, note) : "")];
}

function tableOf(heads, rows) {
  return el("table", {}, el("thead", {}, el("tr", {}, ...heads.map((word) => el("th", { scope: "col" }, word)))), el("tbody", {}, ...rows));
}

function cells(values) {
  return values.map((value) => el("td", {}, typeof value === "string" ? data(value) : value));
}

function many(count, one, more) {
  return count + " " + (count === 1 ? one : more);
}

/** Who leaves the loop and comes back: always open, for nobody may miss it. */
function detourList(loop) {
  if (!loop.detours.length) return [];
  const entries = loop.detours.map((one) => {
    const button = el("button", { type: "button" },
      el("span", { class: "split", "aria-hidden": "true" }, String(one.n)),
      el("span", {}, el("b", {}, data(one.setup), " goes round"), ": leaves at " + one.split + ", back at " + one.meet + ", by ", data(one.way), "; " + one.takes + "; worst utilisation " + one.worst + "; " + one.waits + ".", el("br"), el("small", {}, data(one.reason))));
    button.addEventListener("click", () => MAP.fitBounds(L.latLngBounds(one.ends.map(([lon, lat]) => [lat, lon])), { padding: [60, 60], maxZoom: 18 }));
    return el("li", {}, button);
  });
  return [el("div", {}, el("h3", {}, "Ways round (dashed on the map)"), el("ul", { class: "calls detours" }, ...entries))];
}

/** The session plan; a line shows its place on the map. */
function sessionPlan(loop) {
  if (!loop.session.length) return [];
  const rows = loop.session.map((stage) => {
    const button = el("button", { type: "button", class: "at-place", "aria-label": "Show " + stage.stop + " at " + stage.at + " on the map" }, stage.at);
    button.addEventListener("click", () => MAP.setView([stage.lonlat[1], stage.lonlat[0]], Math.max(MAP.getZoom(), 17)));
    const what = el("span", {}, el("b", {}, stage.stop), ": ", data(stage.words), stage.takes ? el("small", {}, " takes " + stage.takes) : "");
    return el("tr", { class: ["way out", "last turn"].includes(stage.stop) ? "key-stop" : null }, ...cells([stage.clock, button, what, stage.home]));
  });
  return folded("Session plan", many(rows.length, "line", "lines"), tableOf(["After", "At", "What happens", "Way home"], rows),
    "After: hours and minutes since the start, expected.");
}

/** What the loop teaches: available on the ground, in this loop, and what it gets for it. */
function practiceTable(loop) {
  if (!loop.practice.length) return [];
  const rows = loop.practice.map((row) => el("tr", {}, el("th", { scope: "row" }, row[0]), ...cells(row.slice(1))));
  rows.push(el("tr", { class: "total" }, el("th", { scope: "row" }, "together"), ...cells(["", "", "", "", loop.points.join(" of "), ""])));
  return folded("What it teaches", loop.points[0] + " of " + loop.points[1] + " points", tableOf(["Technique", "Available", "In this loop", "Fitting", "Full practice", "Points", "Weight"], rows),
    "Metres of the trail, or a count of single things. Fitting: weighed by how well it suits the drivers, with repeats counting less.");
}

/** Descents and places with a spotter, as the group drives them. */
function companyList(loop) {
  if (!loop.company.length) return [];
  const rows = loop.company.map((row) => el("tr", {}, ...cells(row)));
  return folded("Descents and spotters", many(rows.length, "stretch", "stretches"), tableOf(["From, to", "Trail", "Order", "Apart", "Spotter"], rows),
    "One at a time: the next begins when the one before has left the stretch and has said so.");
}
