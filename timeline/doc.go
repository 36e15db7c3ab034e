// Package timeline is the vocabulary of the salon and its rules: dogs and their zones, the points of a
// side-on photo, sessions and the work done in them, photos and how they pair with sessions.
//
// It owns names, civil days, the one error type and the rules that need nothing but these. It refuses
// files, pixels, SQL, HTTP and any clock of its own: the present is always passed in.
package timeline
