package hiddenlayer_test

import (
	"testing"

	"peelcheck/preflight/rules/hiddenlayer"
	"peelcheck/preflight/ruletest"
)

func TestRule(t *testing.T) { ruletest.Run(t, hiddenlayer.Rule) }
