//go:build !race

package store

const underRace = false
