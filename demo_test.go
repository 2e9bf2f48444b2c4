package main

import (
	"context"
	"fmt"
	"testing"
	"time"

	"barrelbook/store"
)

func TestTmp(t *testing.T) {
	ctx := context.Background()
	b, err := store.OpenTemporary(ctx)
	if err != nil {
		t.Fatal(err)
	}
	defer b.Close()
	at := time.Now()
	if err := fillDemo(ctx, b, b.Today()); err != nil {
		t.Fatal(err)
	}
	t.Log(time.Since(at))
	for _, find := range []func(context.Context) ([]store.Finding, error){b.FastWear, b.BeyondLimit} {
		fs, err := find(ctx)
		if err != nil {
			t.Fatal(err)
		}
		for _, f := range fs {
			t.Log(f.Serial, f.Feature.Name, f.AnyGroove(), f.Station, f.State, f.Verdict, f.Ratio, f.Chance, f.Hours, f.Open(), f.Sentence)
		}
	}
	all, _ := b.AllFindings(ctx, true)
	states := map[string]int{}
	for _, f := range all {
		states[fmt.Sprint(f.State, " ", f.Verdict)]++
		if f.Serial == youngBarrel || f.Serial == undecidedWear || f.Verdict == 3 {
			t.Log(f.Serial, f.Feature.Name, f.AnyGroove(), f.State, f.Verdict, f.Hours, f.Sentence)
		}
	}
	t.Log(states)
}
