//go:build race

package faultfs_test

// The race detector looks at the code, not at the losses, and takes ten times as long.
const (
	ways       = 2
	againEvery = 2
	step       = 9
)
