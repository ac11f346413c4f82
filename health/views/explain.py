"""What each rule and each formula looks at, and what it cannot see."""

from django.http import Http404, HttpRequest, HttpResponse
from django.shortcuts import render

from health.boards.explain import explanations, formula_pages, rule_page
from health.boards.symptoms import all_lines
from station.access import needs


@needs("read")
def explain(request: HttpRequest) -> HttpResponse:
    return render(request, "health/explain.html", {"board": explanations()})


@needs("read")
def symptoms(request: HttpRequest) -> HttpResponse:
    """The table of symptoms, in the words that flags are told in."""
    return render(request, "health/symptoms.html", {"lines": all_lines()})


@needs("read")
def explained(request: HttpRequest, name: str) -> HttpResponse:
    """The page of a rule or of a formula: no name is both."""
    rule, formula = rule_page(name), formula_pages().get(name)
    if rule is not None:
        return render(request, "health/explain_rule.html", {"board": rule})
    if formula is not None:
        return render(request, "health/explain_formula.html", {"board": formula})
    raise Http404
