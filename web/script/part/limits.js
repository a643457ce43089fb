// The limits' evaluator, the same as programme.Limit.Judge and
// programme.Profile.Answers in Go: both pass programme/testdata/limits.json.

// judge says how a value in a limit's unit stands to it: "within", "broken" or
// "missing". A bound itself is within.
export function judge(limit, value) {
  if (value === undefined || value === null || Number.isNaN(value)) return "missing";
  if (limit.low !== undefined && limit.low !== null && value < limit.low) return "broken";
  if (limit.high !== undefined && limit.high !== null && value > limit.high) return "broken";
  return "within";
}

// answers holds values by field against the limits that are about them; what a
// limit says of the control or of candidates alone is left out.
export function answers(limits, values) {
  const out = [];
  for (const limit of limits) {
    if (!Object.hasOwn(values, limit.field) || limit.of) continue;
    const value = values[limit.field];
    out.push({ field: limit.field, value, standing: judge(limit, value), limit });
  }
  return out;
}
