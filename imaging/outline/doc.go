// Package outline finds the dog's edge in a side-on photo.
//
// It owns the cut: given a first guess of where the edge runs, and how far that may be off, it parts dog from background
// by what both look like near there. It refuses to know where a guess comes from: from points that somebody pointed at,
// from the outline of an earlier photo, from the dog's points, or one day from elsewhere.
package outline
