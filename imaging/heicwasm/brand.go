package heicwasm

import "encoding/binary"

// minFileBytes is the least that a file with a brand has: the head of its ftyp box.
const minFileBytes = 16

// rebrand makes libheif take every HEIC file for one: it looks at the major brand alone (ISO/IEC 14496-12,
// section 4.3), and refuses mif1, under which phones and editors write HEVC pictures too; then it wants to see one that it
// knows among the compatible ones. It writes into file and leaves everything else alone.
func rebrand(file []byte) {
	if len(file) < minFileBytes || string(file[4:8]) != "ftyp" {
		return
	}
	copy(file[8:12], "heic")
	size := int64(binary.BigEndian.Uint32(file))
	end := int(min(size, int64(len(file)))) &^ 3
	for at := 16; at+4 <= end; at += 4 {
		switch string(file[at : at+4]) {
		case "heic", "heix", "mif1":
			return
		}
	}
	if end >= 20 {
		copy(file[16:20], "heic")
	}
}
