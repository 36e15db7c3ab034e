// Package measure turns the edges of a dog in side-on photos into figures in mm: the shape of the topline, and how far the
// coat of a zone stands off the body, each with an honest standard deviation.
//
// It owns the adjustment: photos of one dog, taken over weeks while she stood a little otherwise each time, are laid onto
// one skin line, with everything that is uncertain (where a finger tapped, how she bent, turned and tilted, the scale, the
// hand's own readings) carried along. It refuses pixels, files, clocks and rows.
package measure
