// What is a rating, the same as programme/attribute in Go: both pass
// programme/attribute/testdata/scales.json.

// keyOf gives the one way of writing an attribute.
export function keyOf(name) {
  const colon = name.indexOf(":");
  return name.slice(colon + 1).toLowerCase().split(/[ \-/_\u00a0]+/).filter(Boolean).join("_");
}

// scaleOf gives the scale of an attribute; of one that is not on the list, the one
// under the empty key.
export function scaleOf(scales, name) {
  const key = keyOf(name);
  return Object.hasOwn(scales, key) ? scales[key] : scales[""];
}

// fits tells whether a value is on the scale and on one of its steps.
export function fits(scale, value) {
  return value >= scale.low && value <= scale.high && Number.isInteger(value / scale.step);
}
