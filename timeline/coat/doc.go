// Package coat is the model of a hand-stripped coat: layers of hair of different age in each zone, how they grow,
// what the works of a session do to them, what readings teach, and what to expect on a day — as distributions.
//
// It owns the coat file and the growth formulas. It refuses clocks, files and photos.
package coat
