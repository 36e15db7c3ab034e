// Package endure has tests only: the real program is killed, starved of disk, traced and copied while people work, and
// nothing that it acknowledged may be lost.
package endure
