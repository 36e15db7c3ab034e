package imaging

import (
	"bytes"
	"errors"
	"slices"
)

// heifWalk reads the headers of one HEIF file (ISO/IEC 23008-12). Only headers, metadata items and the properties of
// the photo itself are read, never its pixels, and of all of them together at most maxHEIFMetadata bytes.
type heifWalk struct {
	c      *cursor
	out    *container
	t      heifTables
	props  []heifBox // of ipco, in order
	idat   heifBox
	budget int64
	cut    bool  // a box of the outermost level, or the meta box, goes on beyond the file
	open   bool  // the last box of the outermost level has no size: nobody can tell whether the file is cut
	film   bool  // there is a moov box
	other  bool  // there is a meta box of something else
	fault  error // the first table that could not be read
}

// walkHEIF reads the headers of a HEIC file. Its size is the photo's own before it is turned; orientation is what irot
// and imir ask for, since phones say the same in EXIF once more and both together turn twice.
func walkHEIF(c *cursor) *container {
	w := &heifWalk{
		c: c, out: &container{orientation: 1}, budget: maxHEIFMetadata,
		t: heifTables{items: map[uint32]*heifItem{}},
	}
	meta, found := w.findMeta()
	w.out.complete = !w.cut
	if !found {
		switch {
		case w.film:
			w.out.format = "video"
			w.out.trouble = refuse(CodeFormatUnsupported, nil, "format", "video")
		case w.cut || w.c.size-w.c.at < 8 && !w.other:
			w.out.trouble = refuse(CodeTruncated, errors.New("heif: the file ends before its headers"))
		default:
			w.out.trouble = refuse(CodeDamaged, errors.New("heif: no headers of a picture"))
		}
		return w.out
	}
	if meta.cut {
		w.failed(errHEIFShort)
	}
	w.readMeta(meta)
	w.metadata()
	w.out.trouble = w.photo()
	return w.out
}

func (w *heifWalk) failed(err error) {
	if w.fault == nil {
		w.fault = err
	}
}

// findMeta goes over the boxes of the outermost level to the meta box that describes pictures.
func (w *heifWalk) findMeta() (meta heifBox, found bool) {
	c := w.c
	for range maxHEIFBoxes {
		b, ok := c.nextBox(c.size)
		if !ok {
			return meta, found
		}
		switch b.kind {
		case "moov":
			w.film = true
		case "meta":
			if !found && w.describesPictures(b) {
				meta, found = b, true
			} else {
				w.other = true
			}
		}
		w.cut, w.open = w.cut || b.cut, b.open
		c.at = b.end
	}
	return meta, found
}

// children goes over the boxes of one level inside b, from at on.
func (w *heifWalk) children(b heifBox, at int64, f func(heifBox)) {
	w.c.at = at
	for range maxHEIFBoxes {
		if b.end-w.c.at < 8 {
			return
		}
		child, ok := w.c.nextBox(b.end)
		if !ok {
			w.failed(errHEIFShort)
			return
		}
		f(child)
		w.c.at = child.end
		if child.cut {
			w.failed(errHEIFShort)
			return
		}
	}
	w.failed(errHEIFMany)
}

// afterVersion is where the children of a meta box begin; some writers leave out the version that ISO asks for.
func (w *heifWalk) afterVersion(meta heifBox) int64 {
	w.c.at = meta.body
	if h, ok := w.c.short(8); ok && string(h[4:]) == "hdlr" {
		return meta.body
	}
	return min(meta.body+4, meta.end)
}

// describesPictures reports whether the handler of a meta box is that of pictures, or not said.
func (w *heifWalk) describesPictures(meta heifBox) bool {
	pictures := true
	fault := w.fault
	w.children(meta, w.afterVersion(meta), func(b heifBox) {
		if b.kind == "hdlr" {
			if h := w.body(b, 12); len(h) == 12 {
				pictures = string(h[8:]) == "pict"
			}
		}
	})
	w.fault = fault
	return pictures
}

// body reads the body of a box, or its first most bytes, out of the budget.
func (w *heifWalk) body(b heifBox, most int64) []byte {
	n := min(b.end-b.body, most)
	if n > w.budget {
		w.failed(errHEIFMany)
		return nil
	}
	w.budget -= n
	w.c.at = b.body
	out, _ := w.c.take(n)
	return out
}

// readMeta reads the tables of the meta box, in the order in which they need each other.
func (w *heifWalk) readMeta(meta heifBox) {
	boxes := map[string][]heifBox{}
	w.children(meta, w.afterVersion(meta), func(b heifBox) {
		switch b.kind {
		case "pitm", "iinf", "iref", "iloc", "iprp":
			boxes[b.kind] = append(boxes[b.kind], b)
		case "idat":
			if w.idat.kind == "" {
				w.idat = b
			}
		}
	})
	read := func(kind string, most int, table func([]byte) error) {
		for _, b := range boxes[kind][:min(most, len(boxes[kind]))] {
			w.table(b, table)
		}
	}
	read("pitm", 1, w.t.readPITM)
	read("iinf", 1, w.t.readIINF)
	read("iref", 4, w.t.readIREF)
	read("iloc", 1, w.t.readILOC)
	for _, iprp := range boxes["iprp"][:min(1, len(boxes["iprp"]))] {
		var ipma []heifBox
		w.children(iprp, iprp.body, func(b heifBox) {
			switch {
			case b.kind == "ipco" && w.props == nil:
				w.children(b, b.body, func(p heifBox) { w.props = append(w.props, p) })
			case b.kind == "ipma":
				ipma = append(ipma, b)
			}
		})
		for _, b := range ipma[:min(len(ipma), 16)] {
			w.table(b, w.t.readIPMA)
		}
	}
}

func (w *heifWalk) table(b heifBox, read func([]byte) error) {
	if b.end-b.body > maxHEIFTable {
		w.failed(errHEIFMany)
		return
	}
	if err := read(w.body(b, maxHEIFTable)); err != nil {
		w.failed(err)
	}
}

// properties calls f for the properties of an item in the order of their application.
func (w *heifWalk) properties(item *heifItem, f func(kind string, b heifBox)) {
	for _, p := range item.props {
		if p <= len(w.props) {
			f(w.props[p-1].kind, w.props[p-1])
		}
	}
}

// piece is where an extent of an item lies in the file; inside is false where it goes beyond what holds it.
func (w *heifWalk) piece(item *heifItem, e heifExtent) (at, length int64, inside bool) {
	start, end := int64(0), w.c.size
	if item.method == 1 {
		start, end = w.idat.body, w.idat.end
	}
	room := uint64(end - start)
	if e.at > room {
		return 0, 0, false
	}
	at, room = start+int64(e.at), room-e.at
	if e.toEnd {
		return at, int64(room), true
	}
	return at, int64(min(e.length, room)), e.length <= room
}

// content reads an item; nil if it is larger than most. What the file no longer has is missing from it.
func (w *heifWalk) content(item *heifItem, most int64) []byte {
	if item.method > 1 {
		return nil
	}
	var total int64
	for _, e := range item.extents {
		_, n, _ := w.piece(item, e)
		if total += n; total > most || total > w.budget {
			return nil
		}
	}
	w.budget -= total
	out := make([]byte, 0, total)
	for _, e := range item.extents {
		at, n, _ := w.piece(item, e)
		w.c.at = at
		b, _ := w.c.take(n)
		out = append(out, b...)
	}
	return out
}

// whole is the refusal of an item whose bytes are not all there, or nil.
func (w *heifWalk) whole(item *heifItem) *Refusal {
	if item.method > 1 {
		return refuse(CodeFormatUnsupported, errors.New("heif: an item made of pieces of another"), "format", "heif_rare")
	}
	var total int64
	for _, e := range item.extents {
		_, n, inside := w.piece(item, e)
		if !inside {
			return refuse(CodeTruncated, errors.New("heif: the file ends before an item does"))
		}
		total += n
	}
	if total == 0 {
		return w.broken(errors.New("heif: an item without bytes"))
	}
	return nil
}

// broken is the refusal of headers that do not add up: because the file ends in them, or otherwise.
func (w *heifWalk) broken(err error) *Refusal {
	if w.cut {
		return refuse(CodeTruncated, err)
	}
	return refuse(CodeDamaged, err)
}

func isEXIF(i *heifItem) bool { return i.kind == "Exif" }

func isXMP(i *heifItem) bool {
	return i.kind == "mime" && i.contentType == "application/rdf+xml" && !i.encoded
}

// metadata takes the EXIF and XMP items: first what describes the photo itself, then what describes nothing in
// particular, then what describes its tiles or other pictures of the file.
func (w *heifWalk) metadata() {
	rank := func(i *heifItem) int {
		switch {
		case slices.Contains(i.about, w.t.primary):
			return 0
		case len(i.about) == 0:
			return 1
		}
		return 2
	}
	var items []*heifItem
	for _, i := range w.t.order {
		if isEXIF(i) || isXMP(i) {
			items = append(items, i)
		}
	}
	slices.SortStableFunc(items, func(a, b *heifItem) int { return rank(a) - rank(b) })
	for _, i := range items {
		switch {
		case i.protected:
		case isEXIF(i) && len(w.out.exif) < maxEXIFBlocks:
			w.out.addEXIF(heifTIFF(w.content(i, maxEXIFBytes)))
		case isXMP(i) && len(w.out.xmp) == 0:
			w.out.xmp = w.content(i, maxXMPBytes)
		}
	}
}

// heifTIFF is the TIFF stream of an EXIF item, which stands behind a four-byte offset and whatever that steps over,
// "Exif\0\0" as a rule (ISO/IEC 23008-12, annex A.2.1). Writers who forget the offset are understood too.
func heifTIFF(b []byte) []byte {
	f := heifFields{b: b}
	if skip := f.uint(4); !f.short && skip <= uint64(len(f.b)) && isTIFF(f.b[skip:]) {
		return f.b[skip:]
	}
	for _, header := range []string{"", "Exif\x00\x00", "\x00\x00\x00\x00Exif\x00\x00"} {
		if bytes.HasPrefix(b, []byte(header)) && isTIFF(b[len(header):]) {
			return b[len(header):]
		}
	}
	return nil
}

func isTIFF(b []byte) bool {
	return bytes.HasPrefix(b, []byte("II*\x00")) || bytes.HasPrefix(b, []byte("MM\x00*"))
}
