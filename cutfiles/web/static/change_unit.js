// Another unit for plain numbers: lengths that are there stay what they are, with the unit that they had.

const ENDS = { length: "", "two lengths": "", outline: "", speed: "/s", acceleration: "/s2" };

function told(value, unit) {
  if (typeof value === "number") return `${value} ${unit}`;
  return Array.isArray(value) ? value.map((part) => told(part, unit)) : value;
}

// The changes that write a unit behind every plain number that stands for a length, a speed or an acceleration.
export function unitChanges(tables, schema, measures) {
  const unit = tables.length_unit ?? "mm";
  const changes = [];
  const walk = (keys, table, path) => {
    for (const key of keys) {
      const value = table[key.name];
      const there = [...path, key.name];
      if (value === undefined) continue;
      if (key.kind === "table") walk(key.keys, value, there);
      else if (key.kind === "tables") rows(key.keys, value, there);
      else if (key.name === "measures") walk(measures[table.style] ?? [], value, there);
      else if (key.kind in ENDS) {
        const written = told(value, unit + ENDS[key.kind]);
        if (JSON.stringify(written) !== JSON.stringify(value)) changes.push({ path: there, value: written });
      }
    }
  };
  const rows = (keys, list, path) => {
    if (Array.isArray(list)) list.forEach((row, k) => walk(keys, row, [...path, k]));
  };
  for (const [name, keys] of Object.entries(schema)) {
    if (name === "job" || tables[name] === undefined) continue;
    if (Array.isArray(tables[name])) rows(keys, tables[name], [name]);
    else walk(keys, tables[name], [name]);
  }
  return changes;
}
