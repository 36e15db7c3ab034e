//go:build !race

package faultfs_test

// ways is how many random choices of what is lost are looked at after each crash.
const ways = 20
