"use strict";
/* The sheet's own arithmetic: boxes are checked one by one, then against each other, and only a sheet without a fault
   is written as a vehicle file. Lengths in the boxes are millimetres, in the file metres. */
(() => {
  const spec = JSON.parse(document.getElementById("spec").textContent);
  const box = (id) => document.getElementById(id);
  const picked = (name) => document.querySelector(`input[name="${name}"]:checked`)?.value;
  const rowOf = Object.fromEntries(spec.rows.map((row) => [row.id, row]));
  let faults = [];

  /* ---- what is typed ---- */

  function fault(id, text) {
    const told = box(`fault-${id}`);
    if (told.textContent) return;
    told.textContent = text;
    const input = box(id);
    if (input) input.setAttribute("aria-invalid", "true");
    faults.push(input || document.querySelector(`input[name="${id}"]`));
  }

  function clear() {
    faults = [];
    document.querySelectorAll(".fault").forEach((told) => { told.textContent = ""; });
    document.querySelectorAll("[aria-invalid]").forEach((input) => input.removeAttribute("aria-invalid"));
  }

  /* A number as typed: a comma is a decimal point, blanks between digits are nothing. NaN where it is none. */
  function numberOf(text) {
    const plain = text.replace(/\s/g, "").replace(/[−–]/, "-").replace(",", ".");
    return /^[-+]?\d+(\.\d+)?$/.test(plain) ? Number(plain) : NaN;
  }

  function read(id, low, high, unit, needed) {
    const text = box(id).value.trim();
    if (text === "") {
      if (needed) fault(id, "missing");
      return undefined;
    }
    const value = numberOf(text);
    if (Number.isNaN(value)) fault(id, "not a number: digits only, such as 1234");
    else if (value < low || value > high) fault(id, `outside ${low} to ${high} ${unit}`.trim());
    else return value;
    return undefined;
  }

  function boxes() {
    const found = {};
    for (const row of spec.rows) {
      const value = read(row.id, row.low, row.high, row.unit, row.needed);
      if (value !== undefined) found[row.id] = value / row.per;
    }
    return found;
  }

  function hardPoints() {
    const points = [];
    for (let k = 1; box(`x${k}`); k += 1) {
      const texts = ["x", "z"].map((axis) => box(axis + k).value.trim());
      if (texts[0] === "" && texts[1] === "") continue;
      const [x, z] = ["x", "z"].map((axis) => read(axis + k, spec.point[axis].low, spec.point[axis].high, "mm", true));
      if (x !== undefined && z !== undefined) points.push({ k, x: x / 1000, z: z / 1000 });
    }
    return points;
  }

  /* New loads: a row with anything in it needs a name, a mass and a place. */
  function newLoads() {
    const found = [], parts = Object.keys(spec.load);
    for (let k = 1; box(`l${k}name`); k += 1) {
      const name = box(`l${k}name`).value.trim();
      if (!name && !parts.some((part) => box(`l${k}${part}`).value.trim())) continue;
      if (!name) fault(`l${k}name`, "missing");
      const load = { k, name, people: box(`l${k}people`).checked };
      for (const part of parts) {
        const { low, high } = spec.load[part];
        const value = read(`l${k}${part}`, low, high, part === "kg" ? "kg" : "mm", part !== "top");
        load[part] = value === undefined || part === "kg" ? value : value / 1000;
      }
      found.push(load);
    }
    return found;
  }

  /* ---- what does not fit together: the rules of the vehicle file ---- */

  const both = (...values) => values.every((value) => value !== undefined);

  function widthsFit(m) {
    if (both(m.J, m.K) && m.K < m.J) fault("K", "less than the body, J; without mirrors the same figure");
    for (const id of ["F", "G"]) {
      if (both(m.J, m[id]) && m[id] > m.J) fault(id, "more than the width J: tyre middle to tyre middle");
    }
  }

  function massesFit(m) {
    const low = spec.frontShare[0], high = spec.frontShare[1];
    if (both(m.S, m.T)) {
      const total = m.S + m.T, share = m.S / total;
      if (share < low || share > high) fault("S", `${Math.round(share * 100)} % of S + T: weigh again`);
      if (m.gvm !== undefined && m.gvm < total) fault("gvm", "less than the mass on the scales, S + T");
      if (both(m.U, m.V) && Math.abs(m.U + m.V - total) > 0.02 * total) fault("V", "U + V differs from S + T by more than 2 %: weigh again");
    }
    if (both(m.U, m.V) && Math.abs(left(m)) > 0.3) fault("V", "the sides differ too much: weigh again");
    for (const [one, other] of [["U", "V"], ["V", "U"]]) {
      if (m[one] === undefined && m[other] !== undefined) fault(one, `missing: needed with ${other}`);
    }
  }

  function height(m) {
    const raised = m.W !== undefined || m.X !== undefined;
    if (raised) {
      for (const id of ["W", "X"]) if (m[id] === undefined) fault(id, "missing: W and X go together");
      if (m.Y !== undefined) fault("Y", "W and X give the height: leave this one empty");
    } else if (m.Y === undefined) {
      for (const id of ["W", "X"]) if (!box(id).value.trim()) fault(id, "missing, or give Y");
    }
    if (!both(m.W, m.X)) return m.Y;
    if (!both(m.A, m.E, m.S, m.T)) return undefined;
    if (m.W >= m.A) fault("W", "not below the wheelbase A");
    if (m.X <= m.T) fault("X", "not above T: the rear axle carries more when the front is raised");
    return m.E + (m.X - m.T) * perKg(m);
  }

  /* Metres of height that one kilogram on the raised reading makes, A ÷ (m · tan α); derived in weighing.py. */
  const perKg = (m) => m.A / ((m.S + m.T) * Math.tan(Math.asin(m.W / m.A)));
  const left = (m) => (m.F + m.G) / 4 * (m.U - m.V) / (m.U + m.V);

  function heightFits(m, cg) {
    if (cg === undefined || Number.isNaN(cg)) return;
    const id = m.W !== undefined ? "X" : "Y", [low, high] = [rowOf.Y.low / 1000, rowOf.Y.high / 1000];
    const said = `the centre of gravity comes out at ${cg.toFixed(3)} m`;
    if (cg < low || cg > high) fault(id, `${said}, outside ${low} to ${high} m: measure again`);
    else if (m.D !== undefined && cg > spec.cgOfHeight * m.D) fault(id, `${said}, above ${Math.round(spec.cgOfHeight * 100)} % of D: measure again`);
  }

  function circleFits(m) {
    if (both(m.A, m.N) && m.N / 2 <= m.A) fault("N", "half of it is not above the wheelbase A: give the diameter");
  }

  /* Mirrors and roof may be left out; what is given must be a part of the body. */
  function outlineFits(m) {
    if (both(m.b, m.c) && m.c <= m.b) fault("c", "not above the lower edge b");
    if (both(m.d, m.J) && m.d > m.J) fault("d", "more than the width J");
    if (both(m.e, m.D) && m.e >= m.D) fault("e", "not below the height D");
    if (both(m.f, m.g) && m.g >= m.f) fault("g", "not behind the windscreen f");
    if (!both(m.A, m.B, m.C)) return;
    const high = m.B + spec.slack, low = -(m.A + m.C + spec.slack);
    for (const id of ["a", "f", "g"]) if (m[id] < low || m[id] > high) fault(id, `outside the vehicle, ${mm(-(m.A + m.C))} to ${mm(m.B)}`);
  }

  function insideTyre(m, x, z) {
    return [0, -m.A].find((axle) => Math.hypot(x - axle, z - m.E) < m.E);
  }

  function pointsFit(m, points) {
    if (!both(m.A, m.B, m.C, m.E)) return;
    const high = m.B + spec.slack, low = -(m.A + m.C + spec.slack);
    for (const { k, x, z } of points) {
      if (x < low || x > high) fault(`x${k}`, `outside the vehicle, ${mm(-(m.A + m.C))} to ${mm(m.B)}`);
      else if (insideTyre(m, x, z) !== undefined) fault(`z${k}`, "inside a tyre: axle parts are L and M");
    }
    const parts = [["ahead of the front axle, x above 0", (x) => x > 0],
      ["between the axles", (x) => x < 0 && x > -m.A], ["behind the rear axle", (x) => x < -m.A]];
    const gaps = parts.filter(([, inside]) => !points.some((point) => inside(point.x))).map(([name]) => name);
    if (gaps.length && !faults.length) fault("x1", `no point ${gaps.join(", nor ")}`);
  }

  const mm = (metres) => Math.round(metres * 1000);

  function carriedFits(m, table, id) {
    if (!both(m.A, m.B, m.C, m.D, m.E, m.J)) return;
    if (table.points.some(([x, z]) => insideTyre(m, x, z) !== undefined)) fault(id, "lies inside a tyre now: untick it and measure it again");
    if (table.at_m && !onBoard(m, ...table.at_m)) fault(id, "lies outside the vehicle now: untick it and measure it again");
  }

  function onBoard(m, x, y, z) {
    const reach = spec.loadReach;
    return x <= m.B + reach && x >= -(m.A + m.C + reach) && Math.abs(y) <= m.J / 2 && z <= m.D + reach;
  }

  function loadsFit(m, loads) {
    const names = keptTables().map((table) => table.load);
    for (const { k, name, x, y, z, top } of loads) {
      if (name && names.includes(name)) fault(`l${k}name`, "there is a load of this name already");
      names.push(name);
      if (both(z, top) && top < z) fault(`l${k}top`, "below its centre z");
      if (both(x, y, z, m.A, m.B, m.C, m.D, m.J) && !onBoard(m, x, y, z)) fault(`l${k}x`, "lies outside the vehicle");
    }
  }

  const keptTables = () => spec.tables.filter((_, k) => box(`carry${k}`).checked);

  /* ---- the file ---- */

  const figure = (value) => String(Number(value.toFixed(4)));
  const lone = /[\ud800-\udbff](?![\udc00-\udfff])|(?<![\ud800-\udbff])[\udc00-\udfff]/g;
  const quoted = (text) => JSON.stringify(text.replace(lone, "\ufffd")).replace(/\u007f/g, "\\u007f");
  const remark = (text) => text.replace(lone, "\ufffd").replace(/[\u0000-\u001f\u007f]/g, " ").trim();

  function heading() {
    const parts = [["on", "on"], ["at", "at"], ["by", "by"]].filter(([id]) => box(id).value.trim());
    const when = parts.map(([id, word]) => `${word} ${remark(box(id).value)}`).join(", ");
    return ["# Measured with the measuring sheet: the vehicle as it stands, empty, on level ground.", when ? `# Measured ${when}.` : ""];
  }

  function loadLines({ name, kg, x, y, z, top, people }) {
    const key = /^[A-Za-z0-9_-]+$/.test(name) ? name : quoted(name);
    const lines = ["", `[loads.${key}]`, `mass_kg = ${figure(kg)}`, `at_m = [${[x, y, z].map(figure).join(", ")}]`];
    if (top !== undefined) lines.push(`top_m = ${figure(top)}`);
    if (people) lines.push("people = true");
    return lines;
  }

  function written({ m, cg, points, loads }) {
    const lines = [...heading().filter(Boolean), `name = ${quoted(box("name").value.trim())}`,
      `drive = ${quoted(picked("drive"))}`, `low_range = ${picked("low")}`];
    const direct = spec.rows.filter((row) => row.key && row.key !== "cg_height_m" && m[row.id] !== undefined);
    for (const row of direct) lines.push(`${row.key} = ${figure(m[row.id])}`);
    lines.push(`kerb_mass_kg = ${figure(m.S + m.T)}`);
    const how = m.W !== undefined ? `front axle raised by ${mm(m.W)} mm: ${figure(m.T)} kg became ${figure(m.X)} kg` : "from a test report";
    lines.push(`cg_height_m = ${figure(cg)}  # ${how}`);
    if (m.U !== undefined) lines.push(`cg_left_m = ${figure(left(m))}  # left wheels ${figure(m.U)} kg, right wheels ${figure(m.V)} kg`);
    lines.push('source = "measured"', `modified = ${picked("modified")}`, "underbody = [  # [x, z] hard points, front to rear");
    for (const { x, z } of [...points].sort((a, b) => b.x - a.x)) lines.push(`    [${figure(x)}, ${figure(z)}],`);
    lines.push("]");
    lines.push(...loads.flatMap(loadLines));
    const kept = keptTables().map((table) => `\n${table.toml}`);
    if (kept.length) lines.push("", "# Carried over from the old file, not measured again:");
    return `${lines.join("\n")}\n${kept.join("")}`;
  }

  function workedOut({ m, cg }) {
    const lines = [["Kerb mass", `${figure(m.S + m.T)} kg, ${Math.round(m.S / (m.S + m.T) * 100)} % on the front axle`],
      ["Centre of gravity", `${cg.toFixed(3)} m high${m.W !== undefined ? `; 1 kg on X moves it by ${(perKg(m) * 1000).toFixed(1)} mm` : ""}`]];
    if (m.U !== undefined) lines.push(["", `${Math.abs(left(m)).toFixed(3)} m to the ${left(m) < 0 ? "right" : "left"} of the middle`]);
    const index = 1000 * m.P / (m.A * Math.sin(spec.rampDeg * Math.PI / 180));
    lines.push(["Ramp travel index", `${Math.round(index)} at ${spec.rampDeg}°`]);
    return lines;
  }

  /* ---- the button ---- */

  function check() {
    clear();
    const name = box("name").value.trim();
    if (!name) fault("name", "missing");
    else if ([...name].length > 80) fault("name", "longer than 80 characters");
    for (const id of ["drive", "low", "modified"]) if (!picked(id)) fault(id, "missing: pick one");
    const m = boxes(), points = hardPoints(), loads = newLoads();
    widthsFit(m);
    massesFit(m);
    circleFits(m);
    outlineFits(m);
    const cg = height(m);
    heightFits(m, cg);
    spec.tables.forEach((table, k) => { if (box(`carry${k}`).checked) carriedFits(m, table, `carry${k}`); });
    loadsFit(m, loads);
    pointsFit(m, points);
    return { m, cg, points, loads };
  }

  function show(found) {
    const text = written(found);
    box("toml").textContent = text;
    box("worked").replaceChildren(...workedOut(found).flatMap(([term, said]) => {
      const dt = document.createElement("dt"), dd = document.createElement("dd");
      dt.textContent = term;
      dd.textContent = said;
      return [dt, dd];
    }));
    const save = box("save"), word = box("name").value.toLowerCase().replace(/[^a-z0-9]+/g, "-").replace(/^-+|-+$/g, "");
    URL.revokeObjectURL(save.href);
    save.href = URL.createObjectURL(new Blob([text], { type: "application/toml" }));
    save.download = `${word.slice(0, 40) || "vehicle"}.toml`;
    box("result").hidden = false;
    box("result").scrollIntoView({ block: "nearest" });
  }

  function drop() {
    box("result").hidden = true;
    box("toml").textContent = "";
    box("tally").textContent = "";
  }

  box("sheet").addEventListener("submit", (event) => {
    event.preventDefault();
    drop();
    const found = check();
    if (faults.length) {
      box("tally").textContent = `Nothing written: ${faults.length} ${faults.length === 1 ? "box" : "boxes"} to mend, each said beside it.`;
      faults[0].focus();
    } else show(found);
  });
  let unsaved = false;
  box("sheet").addEventListener("input", () => { drop(); unsaved = true; });
  box("save").addEventListener("click", () => { unsaved = false; });
  addEventListener("beforeunload", (event) => { if (unsaved) event.preventDefault(); });
  box("sheet").addEventListener("keydown", (event) => {
    if (event.key === "Enter" && event.target.matches('input[type="text"]')) event.preventDefault();
  });
  box("write").hidden = false;
})();
