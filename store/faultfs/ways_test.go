//go:build !race

package faultfs_test

// ways is how many random choices of what is lost are looked at after each crash.
const ways = 20

// againEvery is at which of them the work is done again.
const againEvery = 5

// step is how many operations further the next crash or fault is.
const step = 1
