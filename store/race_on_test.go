//go:build race

package store

// underRace says that the race detector looks on, for which a few cases are enough and many take ten times as long.
const underRace = true
