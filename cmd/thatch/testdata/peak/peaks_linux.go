package main

import (
	"bytes"
	"fmt"
	"os"
	"syscall"
)

// peaks are, of the program that ended, ru_maxrss of getrusage(2), which Linux counts in KiB; of this one VmHWM of
// proc(5): its own ru_maxrss begins with what its parent held.
func peaks(ended *os.ProcessState) (program, own int64) {
	status, err := os.ReadFile("/proc/self/status")
	if err != nil {
		panic(err)
	}
	_, after, _ := bytes.Cut(status, []byte("VmHWM:"))
	if _, err := fmt.Sscan(string(after), &own); err != nil {
		panic(err)
	}
	return int64(ended.SysUsage().(*syscall.Rusage).Maxrss), own
}
