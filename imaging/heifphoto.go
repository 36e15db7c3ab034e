package imaging

import (
	"bytes"
	"errors"
	"fmt"
)

// photo reads size, turn and colours of the primary item and says why it cannot be taken.
func (w *heifWalk) photo() *Refusal {
	item := w.t.items[w.t.primary]
	if item == nil {
		return w.broken(errors.New("heif: no primary item"))
	}
	w.colours(item)
	w.out.codedColour, w.out.assembled = w.codedColours(item), w.assembled(item)
	shape, err := w.shape(item, 0)
	w.out.orientation = shape.orientation
	w.out.widthPX, w.out.heightPX = shape.widthPX, shape.heightPX
	if turned(shape.orientation) {
		w.out.widthPX, w.out.heightPX = shape.heightPX, shape.widthPX
	}
	p := heifPieces{w: w, state: map[uint32]bool{}}
	unsupported := p.add(item, 0)
	w.out.tiles = p.coded
	switch {
	case w.fault != nil && err != nil:
		return w.broken(errors.Join(w.fault, err))
	case w.fault != nil:
		return w.broken(w.fault) // before what a damaged table says of its pictures' kinds
	case unsupported != nil:
		return unsupported
	case err != nil:
		return w.broken(err)
	case p.broken != nil:
		return w.broken(p.broken)
	}
	if r := tooLargePX(w.out.decodedWidthPX, w.out.decodedHeightPX); r != nil {
		return r
	}
	if p.missing != nil {
		return p.missing
	}
	// The picture may be whole, but its date is not. Where the file is whole, a place beyond it is a writer's slip.
	for _, i := range w.t.order {
		if (w.cut || w.open) && (isEXIF(i) || isXMP(i)) {
			if r := w.whole(i); r != nil && r.Code == CodeTruncated {
				return r
			}
		}
	}
	return nil
}

// colours takes the photo's profile and code points; where it has none, those of its first tile.
func (w *heifWalk) colours(item *heifItem) {
	for range maxHEIFDepth {
		w.properties(item, func(kind string, b heifBox) {
			if kind != "colr" || b.end-b.body > maxICCBytes {
				return
			}
			switch head := w.body(b, 11); {
			case bytes.HasPrefix(head, []byte("nclx")) && w.out.nclx == nil:
				w.out.nclx = readNCLX(head[4:])
			case (bytes.HasPrefix(head, []byte("prof")) || bytes.HasPrefix(head, []byte("rICC"))) && w.out.icc == nil && len(head) > 4:
				w.out.icc = w.body(b, maxICCBytes)[4:]
			}
		})
		if w.out.icc != nil || w.out.nclx != nil || len(item.from) == 0 || w.t.items[item.from[0]] == nil {
			return
		}
		item = w.t.items[item.from[0]]
	}
}

// shape is the size of an item and what its properties do with it.
func (w *heifWalk) shape(item *heifItem, depth int) (s heifShape, err error) {
	s.orientation = 1
	known := false
	w.properties(item, func(kind string, b heifBox) {
		if kind != "ispe" {
			return
		}
		// There is one; where a damaged file has two, the larger counts, since memory is granted by it.
		if width, height, ok := readISPE(w.body(b, 12)); ok && (!known || int64(width)*int64(height) > int64(s.widthPX)*int64(s.heightPX)) {
			s.widthPX, s.heightPX, known = width, height, true
		}
	})
	switch {
	case item.kind == "grid":
		g, ok := readGrid(w.content(item, 1<<10))
		switch {
		case !known:
			s.widthPX, s.heightPX, known = g.widthPX, g.heightPX, ok
		case ok && (g.widthPX != s.widthPX || g.heightPX != s.heightPX):
			err = fmt.Errorf("heif: a grid of %d × %d px in a picture of %d × %d", g.widthPX, g.heightPX, s.widthPX, s.heightPX)
		}
		if ok && len(item.from) < g.tiles {
			err = fmt.Errorf("heif: a grid of %d tiles has %d", g.tiles, len(item.from))
		}
	case item.kind == "iden" && len(item.from) > 0 && depth < maxHEIFDepth:
		// The same picture as another, as that one is shown.
		if source := w.t.items[item.from[0]]; source != nil {
			if inner, innerErr := w.shape(source, depth+1); innerErr == nil {
				s, known = inner, true
			}
		}
	}
	if !known || s.widthPX < 1 || s.heightPX < 1 {
		return s, errors.New("heif: no size")
	}
	if int64(s.widthPX)*int64(s.heightPX) > int64(w.out.decodedWidthPX)*int64(w.out.decodedHeightPX) {
		w.out.decodedWidthPX, w.out.decodedHeightPX = s.widthPX, s.heightPX
	}
	w.properties(item, func(kind string, b heifBox) {
		switch kind {
		case "irot", "imir", "clap":
			if e := s.transform(kind, w.body(b, 32)); e != nil && err == nil {
				err = e
			}
		}
	})
	return s, err
}

// heifPieces goes over a picture and the pictures that it is derived from.
type heifPieces struct {
	w       *heifWalk
	state   map[uint32]bool // seen; true while it is being looked into
	coded   int
	broken  error
	missing *Refusal
}

// add looks into one item; what it returns is a coding that is not taken.
func (p *heifPieces) add(item *heifItem, depth int) *Refusal {
	if open, seen := p.state[item.id]; seen {
		if open {
			p.broken = errors.New("heif: a picture derived from itself")
		}
		return nil
	}
	if item.protected {
		return refuse(CodeFormatUnsupported, errors.New("heif: a protected picture"), "format", "heif_rare")
	}
	p.state[item.id] = true
	defer func() { p.state[item.id] = false }()
	switch item.kind {
	case "hvc1", "hev1":
		p.coded++
		p.w.noteCoded(item)
		_, _ = p.w.shape(item, depth) // a huge tile of a small grid is decoded whole
	case "grid", "iden", "iovl":
		if depth >= maxHEIFDepth || len(item.from) == 0 {
			p.broken = fmt.Errorf("heif: a picture derived from nothing (%s)", item.kind)
			return nil
		}
		for _, id := range item.from {
			source := p.w.t.items[id]
			if source == nil {
				p.broken = fmt.Errorf("heif: no item %d to derive a picture from", id)
				continue
			}
			if r := p.add(source, depth+1); r != nil {
				return r
			}
		}
	case "av01":
		p.w.out.format = "avif"
		return refuse(CodeFormatUnsupported, nil, "format", "avif")
	default:
		return refuse(CodeFormatUnsupported, fmt.Errorf("heif: a picture of kind %q", item.kind), "format", "heif_rare")
	}
	if item.kind == "iden" {
		return nil // has no bytes of its own
	}
	if r := p.w.whole(item); r != nil {
		switch r.Code {
		case CodeFormatUnsupported:
			return r
		case CodeTruncated:
			p.missing = r
		default:
			p.broken = r.Cause
		}
	}
	return nil
}
