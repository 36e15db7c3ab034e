// Package guess makes a first guess of where a dog's edge runs in a side-on photo: from its points, by a template of a
// standing dog bent to them, or from the picture alone. It also proposes the points from an outline.
//
// It owns the template (measured on our own drawn dogs, never on photos) and the search without any help. It refuses to be
// an outline: what it says is where to look, how surely, and that it has found nothing where there is no believable dog.
// The edge itself is for package outline.
package guess
