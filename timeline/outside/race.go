//go:build race

package outside

const slower = 12
