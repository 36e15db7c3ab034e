package endure_test

import (
	"bufio"
	"bytes"
	"fmt"
	"math/rand/v2"
	"os"
	"os/exec"
	"path/filepath"
	"regexp"
	"runtime"
	"strings"
	"testing"
	"time"

	"thatch/cmd/thatch/tested"
	"thatch/timeline/outside"
)

// startTime is how long the program may take until it serves, whatever it was killed at.
const startTime = 5 * time.Second

// launch starts serving and returns the address; the caller kills it.
func launch(t testing.TB, program, data string, env ...string) (cmd *exec.Cmd, address string, took time.Duration) {
	t.Helper()
	began := time.Now()
	cmd = exec.Command(program, "serve", "--data", data, "--listen", "127.0.0.1:0")
	cmd.Env = append(os.Environ(), env...)
	address = begun(t, cmd)
	return cmd, address, time.Since(began)
}

// begun starts a serving command and waits for the address that it prints.
func begun(t testing.TB, cmd *exec.Cmd) (address string) {
	t.Helper()
	var said bytes.Buffer
	cmd.Stderr = &said
	out, err := cmd.StdoutPipe()
	if err == nil {
		err = cmd.Start()
	}
	if err != nil {
		t.Fatal(err)
	}
	t.Cleanup(func() { _ = cmd.Process.Kill() }) // where the test ends early
	lines := bufio.NewScanner(out)
	for lines.Scan() {
		if m := regexp.MustCompile(`http://[0-9.:]+`).FindString(lines.Text()); m != "" {
			go func() {
				for lines.Scan() {
				}
			}()
			return m
		}
	}
	_ = cmd.Wait()
	t.Fatalf("the program did not start: %s", said.String())
	return ""
}

// underFire kills the program again and again while several groomers work, and looks after each start at what is left. It ends
// after so many cycles, or after so long, or when something is wrong.
func underFire(t testing.TB, program string, cycles int, atMost time.Duration, env ...string) (wrong []string, said string) {
	t.Helper()
	s, seen, lot := newSalonUnderFire(t), filesSeen{}, rand.New(rand.NewPCG(6, 2026))
	cmd, address, _ := launch(t, program, s.data)
	s.begin(t, address, 4)
	_ = cmd.Process.Kill()
	_ = cmd.Wait()
	began, slowest, n := time.Now(), time.Duration(0), 0
	for ; n < cycles && time.Since(began) < atMost && len(wrong) == 0; n++ {
		cmd, address, took := launch(t, program, s.data, env...)
		slowest = max(slowest, took)
		var err error
		if wrong, err = s.check(seen); err != nil {
			t.Fatal(err)
		}
		wait := s.work(t, address)
		time.Sleep(time.Duration(20+lot.IntN(200)) * time.Millisecond)
		if lot.IntN(4) == 0 && runtime.GOOS != "windows" { // killed while it closes, or just after
			_ = cmd.Process.Signal(os.Interrupt)
			time.Sleep(time.Duration(lot.IntN(150)) * time.Millisecond)
		}
		_ = cmd.Process.Kill()
		wait()
		_ = cmd.Wait()
		s.client.CloseIdleConnections()
	}
	if len(wrong) == 0 { // the last kill too
		cmd, _, took := launch(t, program, s.data)
		slowest = max(slowest, took)
		var err error
		if wrong, err = s.check(seen); err != nil {
			t.Fatal(err)
		}
		_ = cmd.Process.Kill()
		_ = cmd.Wait()
	}
	if slowest > startTime {
		wrong = append(wrong, fmt.Sprintf("a start took %v", slowest))
	}
	if refused := s.refused.Load(); len(wrong) == 0 && refused > s.acks.Load()/10 {
		wrong = append(wrong, fmt.Sprintf("%d answers were no acknowledgement: the harness asks for the wrong things", refused))
	}
	return wrong, fmt.Sprintf("%d kills in %.0f s, %d changes acknowledged, %d answers refused, %d photos; slowest start %d ms",
		n, time.Since(began).Seconds(), s.acks.Load(), s.refused.Load(), len(seen), slowest.Milliseconds())
}

// The program is killed 200 times, or as often as THATCH_MANY says.
func TestNothingAcknowledgedIsLostUnderKills(t *testing.T) {
	program, err := tested.Built()
	if err != nil {
		t.Fatal(err)
	}
	wrong, said := underFire(t, program, outside.Many(t, 200), time.Hour)
	if len(wrong) > 0 {
		t.Errorf("%d things are wrong:\n%s", len(wrong), strings.Join(wrong[:min(len(wrong), 20)], "\n"))
	}
	t.Log(said)
}

// The same harness against a program of another build, into which a bug was planted.
func TestEachPlantedBugIsCaughtUnderKills(t *testing.T) {
	program := filepath.Join(t.TempDir(), "planted")
	if runtime.GOOS == "windows" {
		program += ".exe"
	}
	if out, err := exec.Command("go", "build", "-tags", "plantedbugs", "-o", program, "thatch/cmd/thatch").CombinedOutput(); err != nil {
		t.Fatalf("%v\n%s", err, out)
	}
	for _, c := range []struct{ bug, sign string }{
		{"answer-first", "an acknowledged"},
		{"row-first", "a row without its file"},
		{"in-place", "a torn file"},
	} {
		t.Run(c.bug, func(t *testing.T) {
			began := time.Now()
			wrong, said := underFire(t, program, 1<<30, time.Minute, "THATCH_PLANTED="+c.bug)
			if !strings.Contains(strings.Join(wrong, "\n"), c.sign) {
				t.Fatalf("not caught: %s; %v", said, wrong)
			}
			t.Logf("caught after %.1f s: %s", time.Since(began).Seconds(), wrong[0])
		})
	}

	released, err := tested.Built()
	if err != nil {
		t.Fatal(err)
	}
	for name, want := range map[string]bool{program: true, released: false} {
		b, err := os.ReadFile(name)
		if err != nil {
			t.Fatal(err)
		}
		if bytes.Contains(b, []byte("THATCH_PLANTED")) != want {
			t.Errorf("%s: bugs can be planted: %v", filepath.Base(name), !want)
		}
	}
}
