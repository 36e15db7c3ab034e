package imaging

// turned reports whether an EXIF orientation swaps width and height.
func turned(orientation int) bool { return orientation >= 5 && orientation <= 8 }

// upright is the place in the upright picture of the stored pixel (0, 0), and how it moves, in pixels of the upright
// picture, for one step right and one step down in the stored one. w and h are of the stored picture.
// Exif 2.32, section 4.6.4, tag Orientation.
func upright(orientation, w, h int) (x0, y0, rightX, rightY, downX, downY int) {
	switch orientation {
	case 2:
		return w - 1, 0, -1, 0, 0, 1
	case 3:
		return w - 1, h - 1, -1, 0, 0, -1
	case 4:
		return 0, h - 1, 1, 0, 0, -1
	case 5:
		return 0, 0, 0, 1, 1, 0
	case 6:
		return h - 1, 0, 0, 1, -1, 0
	case 7:
		return h - 1, w - 1, 0, -1, -1, 0
	case 8:
		return 0, w - 1, 0, -1, 1, 0
	}
	return 0, 0, 1, 0, 0, 1
}
