package main

import (
	"context"
	"encoding/json"
	"fmt"
	"time"

	"phasewright/book"
	"phasewright/web/access"
)

// sharedAccess keeps paired devices and the pairing code in the book's database, where every server on it sees them.
type sharedAccess struct{ book *book.Book }

const (
	sharedDevices = "devices"
	sharedCode    = "pairing code"
	sharedTime    = 5 * time.Second // to wait for the database
)

func (s sharedAccess) Load() (devices []access.Device, err error) {
	err = s.load(sharedDevices, &devices)
	return devices, err
}

func (s sharedAccess) Save(devices []access.Device) error {
	return s.Change(func([]access.Device) ([]access.Device, error) { return devices, nil })
}

func (s sharedAccess) Change(change func([]access.Device) ([]access.Device, error)) error {
	return changeShared(s.book, sharedDevices, change)
}

func (s sharedAccess) Code() (i access.Invite, err error) {
	err = s.load(sharedCode, &i)
	return i, err
}

func (s sharedAccess) ChangeCode(change func(access.Invite) (access.Invite, error)) error {
	return changeShared(s.book, sharedCode, change)
}

func (s sharedAccess) load(name string, to any) error {
	ctx, cancel := context.WithTimeout(context.Background(), sharedTime)
	defer cancel()
	text, err := s.book.Shared(ctx, name)
	if err != nil || text == "" {
		return err
	}
	return readShared(name, text, to)
}

func readShared(name, text string, to any) error {
	if err := json.Unmarshal([]byte(text), to); err != nil {
		return hinted{fmt.Errorf("%s in the database: %w", name, err),
			"take the row out of the table shared and pair again"}
	}
	return nil
}

func changeShared[T any](b *book.Book, name string, change func(T) (T, error)) error {
	ctx, cancel := context.WithTimeout(context.Background(), sharedTime)
	defer cancel()
	return b.ChangeShared(ctx, name, func(text string) (string, error) {
		var now T
		if text != "" {
			if err := readShared(name, text, &now); err != nil {
				return "", err
			}
		}
		now, err := change(now)
		if err != nil {
			return "", err
		}
		out, err := json.Marshal(now)
		return string(out), err
	})
}
