// Package phantom draws synthetic photos of rough-coated dogs whose geometry is known exactly.
//
// It owns a skeleton of points, the skin line through it, the depth of the coat along that line, and the
// drawing of hair, table and room under a camera with roll, scale, light and noise. Every Render returns the
// Truth of its picture beside it. Skin line, depth, outline and mask agree by construction: the outline is
// the skin line moved along its normal by the depth, and the mask is that outline filled. What is drawn is single strands
// about it, of which half cover what lies at the outline (edge.go). The body has a thickness
// (girth.go), so that a turned dog under a pinhole shows foreshortening, keystone and the contours of a rounded body.
//
// It refuses files, clocks and any randomness that does not come from a seed. Proportions are our own drawing
// of a square terrier, by eye; they stand for no breed.
package phantom
