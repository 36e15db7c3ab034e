// Package overlay draws lengths of coat onto a side-on photo: the skin line through the points of the trunk, the
// outline that a coat of given depth would have, the same as SVG paths or burnt into a picture, and pictures side by
// side. Measured, expected and target lines differ in stroke as well as in colour.
//
// It owns lines and strokes. What the depths are, the coat model says; which photo, the caller.
package overlay
