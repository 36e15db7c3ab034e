package imaging

import (
	"bytes"
	"errors"
)

// Ceilings on what a meta box may list. A 200 MP picture in tiles of 512 px has about 800 items, each of them with one
// reference, one extent and five properties.
const (
	maxHEIFItems    = 8192
	maxHEIFLinks    = 1 << 16 // references, extents and associations together
	maxHEIFTable    = 1 << 20 // bytes of one table
	maxHEIFMetadata = 10 << 20
	maxHEIFBoxes    = 4096 // of one level; the properties of a picture are such a level
	maxHEIFDepth    = 8    // pictures derived from pictures
)

var (
	errHEIFMany  = errors.New("heif: more entries than any picture has")
	errHEIFShort = errors.New("heif: a table ends before its entries do")
)

// heifItem is one item of a meta box (ISO/IEC 14496-12, section 8.11).
type heifItem struct {
	id          uint32
	kind        string // item_type
	contentType string // of kind "mime"
	encoded     bool   // compressed: content_encoding is set
	protected   bool
	located     bool // has an entry in iloc
	method      int  // of construction: 0 in the file, 1 in idat, 2 in another item
	extents     []heifExtent
	from        []uint32 // dimg: the pictures that this one is derived from, in order
	about       []uint32 // cdsc: the pictures that this metadata describes
	props       []int    // 1-based places in ipco, in the order of their application
}

// heifExtent is a piece of an item: an offset into the file or into idat, and a length.
type heifExtent struct {
	at, length uint64
	toEnd      bool // no length is said: up to the end
}

// heifTables are the tables of one meta box.
type heifTables struct {
	items   map[uint32]*heifItem
	order   []*heifItem // as iinf lists them
	primary uint32      // 0: not said; no item has that number
	links   int         // against maxHEIFLinks
}

func (t *heifTables) link(n int) error {
	if t.links += n; t.links > maxHEIFLinks {
		return errHEIFMany
	}
	return nil
}

// readPITM reads the primary item's number.
func (t *heifTables) readPITM(b []byte) error {
	f := heifFields{b: b}
	version, _ := f.full()
	n := 2
	if version > 0 {
		n = 4
	}
	t.primary = uint32(f.uint(n))
	if f.short {
		return errHEIFShort
	}
	return nil
}

// eachBox calls f for every box of b; fewer bytes behind them than a box has are padding.
func eachBox(b []byte, most int, f func(kind string, body []byte) error) error {
	c := newCursor(bytes.NewReader(b), int64(len(b)))
	for n := 0; c.size-c.at >= 8; n++ {
		if n >= most {
			return errHEIFMany
		}
		box, ok := c.nextBox(c.size)
		if !ok {
			return errHEIFShort
		}
		if err := f(box.kind, b[box.body:box.end]); err != nil {
			return err
		}
		if box.cut {
			return errHEIFShort
		}
		c.at = box.end
	}
	return nil
}

// readIINF reads the list of items: iinf of both versions, infe of all four. How many it says there are is not asked,
// and what was read before an error stays.
func (t *heifTables) readIINF(b []byte) error {
	f := heifFields{b: b}
	n := 2
	if version, _ := f.full(); version > 0 {
		n = 4
	}
	f.uint(n)
	return eachBox(f.b, maxHEIFItems, func(kind string, body []byte) error {
		if kind != "infe" {
			return nil
		}
		item := &heifItem{}
		f := heifFields{b: body}
		version, _ := f.full()
		if version == 3 {
			item.id = uint32(f.uint(4))
		} else {
			item.id = uint32(f.uint(2))
		}
		item.protected = f.uint(2) != 0
		if version >= 2 {
			item.kind = f.kind()
		} else {
			item.kind = "mime"
		}
		_ = f.text() // its name
		if item.kind == "mime" {
			item.contentType = f.text()
			item.encoded = f.text() != ""
		}
		if _, again := t.items[item.id]; !again && item.id != 0 && !f.short {
			t.items[item.id] = item
			t.order = append(t.order, item)
		}
		return nil
	})
}

// readIREF reads which pictures are derived from which, and which metadata describes which. Thumbnails and auxiliary
// pictures (thmb, auxl) are never the photo itself and are left alone.
func (t *heifTables) readIREF(b []byte) error {
	f := heifFields{b: b}
	n := 2
	if version, _ := f.full(); version > 0 {
		n = 4
	}
	return eachBox(f.b, maxHEIFItems, func(kind string, body []byte) error {
		if kind != "dimg" && kind != "cdsc" {
			return nil
		}
		f := heifFields{b: body}
		item := t.items[uint32(f.uint(n))]
		count := int(f.uint(2))
		if f.short || count*n > len(f.b) {
			return errHEIFShort
		}
		if item == nil {
			return nil
		}
		if err := t.link(count); err != nil {
			return err
		}
		for range count {
			to := uint32(f.uint(n))
			if kind == "dimg" {
				item.from = append(item.from, to)
			} else {
				item.about = append(item.about, to)
			}
		}
		return nil
	})
}

// readILOC reads where the items' bytes lie. The index of a data reference is not asked: no writer keeps a photo's
// pieces in another file, and what is read in this one is checked before it is believed.
func (t *heifTables) readILOC(b []byte) error {
	f := heifFields{b: b}
	version, _ := f.full()
	sizes := f.uint(2)
	offsetBytes, lengthBytes, baseBytes, indexBytes := int(sizes>>12), int(sizes>>8&15), int(sizes>>4&15), int(sizes&15)
	if version == 0 {
		indexBytes = 0
	}
	if max(offsetBytes, lengthBytes, baseBytes, indexBytes) > 8 || version > 2 {
		return errHEIFShort
	}
	idBytes := 2
	if version == 2 {
		idBytes = 4
	}
	for n := f.uint(idBytes); n > 0; n-- {
		item := t.items[uint32(f.uint(idBytes))]
		method := 0
		if version > 0 {
			method = int(f.uint(2) & 15)
		}
		_ = f.uint(2)
		base := f.uint(baseBytes)
		count := int(f.uint(2))
		if f.short {
			return errHEIFShort
		}
		if err := t.link(count); err != nil {
			return err
		}
		if item == nil || item.located {
			item = &heifItem{} // read over it
		}
		item.located, item.method = true, method
		for range count {
			_ = f.uint(indexBytes)
			at, length := f.uint(offsetBytes), f.uint(lengthBytes)
			if f.short {
				return errHEIFShort
			}
			if at += base; at < base {
				at = 1 << 63 // beyond any file
			}
			item.extents = append(item.extents, heifExtent{at: at, length: length, toEnd: lengthBytes == 0})
		}
	}
	return nil
}

// readIPMA reads which properties belong to which item (ISO/IEC 23008-12, section 9.3). There may be several.
func (t *heifTables) readIPMA(b []byte) error {
	f := heifFields{b: b}
	version, flags := f.full()
	idBytes, propBytes := 2, 1
	if version > 0 {
		idBytes = 4
	}
	if flags&1 != 0 {
		propBytes = 2
	}
	for n := f.uint(4); n > 0; n-- {
		item := t.items[uint32(f.uint(idBytes))]
		count := int(f.uint(1))
		if f.short || count*propBytes > len(f.b) {
			return errHEIFShort
		}
		if err := t.link(count); err != nil {
			return err
		}
		for range count {
			p := int(f.uint(propBytes) &^ (1 << (8*propBytes - 1))) // the top bit says essential
			if item != nil && p > 0 {
				item.props = append(item.props, p)
			}
		}
	}
	return nil
}
