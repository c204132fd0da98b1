package fainttint_test

import (
	"testing"

	"peelcheck/preflight/rules/fainttint"
	"peelcheck/preflight/ruletest"
)

func TestRule(t *testing.T) { ruletest.Run(t, fainttint.Rule) }
