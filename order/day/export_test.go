package day

// Place is the sun's declination and the equation of time, for its evidence.
var Place = place
