package salon

import (
	"context"
	"crypto/rand"
	"crypto/subtle"
	"encoding/base64"
	"fmt"
	"strings"
	"time"

	"golang.org/x/crypto/argon2"
	"golang.org/x/text/unicode/norm"

	"thatch/timeline"
)

// hashing is how a password is hashed.
type hashing struct {
	memoryKiB uint32
	passes    uint32
	lanes     uint8
}

// today's parameters: OWASP Password Storage Cheat Sheet, section "Argon2id", m=19456 (19 MiB), t=2, p=1. A hash of
// others is made anew when its password is next given.
var todaysHashing = hashing{memoryKiB: 19456, passes: 2, lanes: 1}

const (
	saltBytes = 16 // RFC 9106, section 3.1: 16 bytes recommended for passwords
	keyBytes  = 32

	hashesAtOnce = 2               // each holds 19 MiB
	hashesWait   = 16              // more are refused at once
	hashPatience = 4 * time.Second // the longest anybody waits for her turn
)

// hasher makes and checks password hashes, two at once. Whoever cannot be served soon is told so instead of being queued
// without end: a flood of sign-ins must not take the salon's memory or its pages.
type hasher struct {
	turns   chan struct{} // holds a token for each hash at work
	waiting chan struct{} // and for each that waits
	wait    time.Duration
	decoy   string // a hash of no password: an unknown name costs as much time as a wrong password
}

func newHasher() *hasher {
	h := &hasher{turns: make(chan struct{}, hashesAtOnce), waiting: make(chan struct{}, hashesWait), wait: hashPatience}
	salt, key := make([]byte, saltBytes), make([]byte, keyBytes)
	rand.Read(salt)
	rand.Read(key)
	h.decoy = todaysHashing.phc(salt, key)
	return h
}

// turn waits until it may hash. Where that takes too long the fault is Busy, with how long to wait.
func (h *hasher) turn(ctx context.Context) (done func(), err error) {
	select {
	case h.turns <- struct{}{}:
		return func() { <-h.turns }, nil
	default:
	}
	busy := timeline.NewFault(timeline.Busy, "fault.password.busy").At("hash password").After(h.wait)
	select {
	case h.waiting <- struct{}{}:
		defer func() { <-h.waiting }()
	default:
		return nil, busy
	}
	late := time.NewTimer(h.wait)
	defer late.Stop()
	select {
	case h.turns <- struct{}{}:
		return func() { <-h.turns }, nil
	case <-late.C:
		return nil, busy
	case <-ctx.Done():
		return nil, busy.Because(ctx.Err())
	}
}

// hash is a new hash of a password in the PHC string format.
func (h *hasher) hash(ctx context.Context, password string) (string, error) {
	done, err := h.turn(ctx)
	if err != nil {
		return "", err
	}
	defer done()
	salt := make([]byte, saltBytes)
	rand.Read(salt) // never fails: the program ends rather than go on without randomness
	return todaysHashing.phc(salt, todaysHashing.key(password, salt, keyBytes)), nil
}

// check tells whether password is that of hash, and whether hash is of old parameters. "" is nobody's hash: it takes as
// long and is never right.
func (h *hasher) check(ctx context.Context, password, hash string) (right, old bool, err error) {
	nobody := hash == ""
	if nobody {
		hash = h.decoy
	}
	how, salt, key, err := parsePHC(hash)
	if err != nil {
		return false, false, err
	}
	done, err := h.turn(ctx)
	if err != nil {
		return false, false, err
	}
	defer done()
	right = subtle.ConstantTimeCompare(how.key(password, salt, uint32(len(key))), key) == 1
	return right && !nobody, how != todaysHashing || len(salt) != saltBytes || len(key) != keyBytes, nil
}

func (h hashing) key(password string, salt []byte, n uint32) []byte {
	return argon2.IDKey([]byte(composed(password)), salt, h.passes, h.memoryKiB, h.lanes, n)
}

// composed is the password in one Unicode form (NFC): keyboards differ in how they write é, and nobody can see which way.
// Nothing else is changed: no case, no space, no length.
func composed(password string) string { return norm.NFC.String(password) }

var phc64 = base64.RawStdEncoding.Strict()

// phc is the PHC string format: $argon2id$v=19$m=…,t=…,p=…$salt$hash.
func (h hashing) phc(salt, key []byte) string {
	return fmt.Sprintf("$argon2id$v=%d$m=%d,t=%d,p=%d$%s$%s", argon2.Version, h.memoryKiB, h.passes, h.lanes, phc64.EncodeToString(salt), phc64.EncodeToString(key))
}

// parsePHC reads it, in the one spelling that phc writes: the base64 decoder, even a strict one, passes over line breaks,
// and Sscanf over leading zeros and whatever follows. The error never holds any of it. Memory and passes are bounded, so
// that a row that somebody wrote cannot make a sign-in take the machine.
func parsePHC(text string) (h hashing, salt, key []byte, err error) {
	parts := strings.Split(text, "$")
	if len(parts) != 6 || parts[0] != "" || parts[1] != "argon2id" || parts[2] != fmt.Sprintf("v=%d", argon2.Version) {
		return h, nil, nil, errPHC
	}
	if _, err := fmt.Sscanf(parts[3], "m=%d,t=%d,p=%d", &h.memoryKiB, &h.passes, &h.lanes); err != nil {
		return h, nil, nil, errPHC
	}
	salt, err1 := phc64.DecodeString(parts[4])
	key, err2 := phc64.DecodeString(parts[5])
	if err1 != nil || err2 != nil || h.phc(salt, key) != text || len(salt) < 8 || len(salt) > 64 || len(key) < 16 || len(key) > 64 ||
		h.lanes < 1 || h.lanes > 8 || h.passes < 1 || h.passes > 16 || h.memoryKiB < 8*uint32(h.lanes) || h.memoryKiB > 256<<10 {
		return h, nil, nil, errPHC
	}
	return h, salt, key, nil
}

var errPHC = fmt.Errorf("a password hash is not argon2id in the PHC string format, or asks for too much")
