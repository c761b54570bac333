package trial

import (
	"context"
	"errors"
	"fmt"
	"strings"
	"sync/atomic"
	"testing"
)

func TestWhatBreaksOnOneEngineComesHome(t *testing.T) {
	defer func() {
		if p := fmt.Sprint(recover()); !strings.Contains(p, "a broken invariant") {
			t.Errorf("%q came home", p)
		}
	}()
	many(context.Background(), 8, nil, func(i int) error {
		if i == 3 {
			panic("a broken invariant")
		}
		return nil
	})
	t.Error("nothing broke")
}

func TestManyEndsWithItsErrorAndItsContext(t *testing.T) {
	bad := errors.New("no such engine")
	if err := many(context.Background(), 5, nil, func(i int) error { return map[int]error{2: bad}[i] }); !errors.Is(err, bad) {
		t.Errorf("%v", err)
	}
	ctx, stop := context.WithCancel(context.Background())
	var did atomic.Int64
	err := many(ctx, 1_000_000, func(int) { stop() }, func(int) error { did.Add(1); return nil })
	if !errors.Is(err, context.Canceled) || did.Load() > 1000 {
		t.Errorf("%v after %d", err, did.Load())
	}
	if err := many(context.Background(), 0, nil, nil); err == nil {
		t.Error("no engines are no fault")
	}
}
