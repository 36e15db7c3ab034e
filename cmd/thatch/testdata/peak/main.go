// Command peak runs another program again and again, each time with one line of its standard input as the last argument,
// and answers each with one line of JSON: exit code, peak of resident memory, time, output.
//
// It exists because the kernel counts into a child's peak what its parent held at the moment of exec: a test program of
// sixty megabytes cannot measure a child of twenty. This one holds less than what it measures, and says how much.
package main

import (
	"bufio"
	"bytes"
	"encoding/json"
	"os"
	"os/exec"
	"time"
)

type answer struct {
	Code   int   // -1: ended by a signal
	PeakKB int64 // of the program
	OwnKB  int64 // of this one, until now
	MS     float64
	CPUMS  float64 // processor time
	Stdout string
	Stderr string
}

func main() {
	in, out := bufio.NewScanner(os.Stdin), json.NewEncoder(os.Stdout)
	for in.Scan() {
		var stdout, stderr bytes.Buffer
		cmd := exec.Command(os.Args[1], append(os.Args[2:len(os.Args):len(os.Args)], in.Text())...)
		cmd.Stdout, cmd.Stderr = &stdout, &stderr
		began := time.Now()
		err := cmd.Run()
		took := time.Since(began)
		if cmd.ProcessState == nil {
			panic(err)
		}
		a := answer{Code: cmd.ProcessState.ExitCode(), MS: float64(took.Microseconds()) / 1000, Stdout: stdout.String(), Stderr: stderr.String()}
		a.CPUMS = float64((cmd.ProcessState.UserTime() + cmd.ProcessState.SystemTime()).Microseconds()) / 1000
		a.PeakKB, a.OwnKB = peaks(cmd.ProcessState)
		if err := out.Encode(a); err != nil {
			panic(err)
		}
	}
}
