// Package align lays one side-on photo of a dog over another: the points of a photo, the similarity transforms between
// them, the warped picture, the points proposed for a new photo from an old one, and the scale in mm per px.
//
// A standing dog is not rigid, so trunk, head and each leg are fitted as parts. A fit ends in a typed Status: with too
// few points, with equal points or with numbers that are not finite it is refused, never guessed.
//
// The package owns geometry only. It opens no file, decodes no photo and keeps no clock.
package align
