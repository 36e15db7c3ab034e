//go:build noheic

package imaging

// heicDecoder is absent from this build: HEIC photos are refused by name.
var heicDecoder stillDecoder
