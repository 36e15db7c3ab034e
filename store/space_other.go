//go:build !linux && !darwin && !windows

package store

import "errors"

func (osFS) Space(string) (Space, error) { return Space{}, errors.ErrUnsupported }
