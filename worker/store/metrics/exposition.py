"""The page of figures in the Prometheus text format, written by prometheus-client.

Loaded when a page is asked for: most processes never write one.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from itertools import accumulate

from prometheus_client import CollectorRegistry, generate_latest
from prometheus_client.core import CounterMetricFamily, GaugeMetricFamily, HistogramMetricFamily
from prometheus_client.metrics_core import Metric
from prometheus_client.registry import Collector

from worker.store.metrics.counts import Key
from worker.store.metrics.families import FAMILIES, Family


def page(counted: Mapping[Key, list[float]], more: Mapping[Family, Mapping[str, float]]) -> bytes:
    """The page.

    Args:
        counted: Numbers by series, as `shared.read_all` gives them.
        more: Figures of further gauges by the value of their one label; "" where a gauge has
            none.
    """
    registry = CollectorRegistry(auto_describe=False)
    registry.register(_Collected(counted, more))
    return generate_latest(registry)


class _Collected(Collector):
    def __init__(
        self, counted: Mapping[Key, list[float]], more: Mapping[Family, Mapping[str, float]]
    ) -> None:
        self._counted = counted
        self._more = more

    def collect(self) -> Iterable[Metric]:
        """The metrics of the page, those without a sample too."""
        for family, figures in self._more.items():
            gauge = GaugeMetricFamily(family.name, family.meaning, labels=family.labels)
            for label, figure in figures.items():
                gauge.add_metric([label] if family.labels else [], figure)
            yield gauge
        for family in FAMILIES:
            metric = _empty(family)
            for (name, labels), numbers in sorted(self._counted.items()):
                if name == family.name and len(labels) == len(family.labels):
                    _put(metric, family, labels, numbers)
            yield metric


def _empty(family: Family) -> Metric:
    if family.kind == "counter":
        return CounterMetricFamily(family.name, family.meaning, labels=family.labels)
    if family.kind == "gauge":
        return GaugeMetricFamily(family.name, family.meaning, labels=family.labels)
    return HistogramMetricFamily(family.name, family.meaning, labels=family.labels)


def _put(metric: Metric, family: Family, labels: tuple[str, ...], numbers: list[float]) -> None:
    if isinstance(metric, HistogramMetricFamily):
        *counts, total_s = numbers
        if len(counts) != len(family.bounds) + 1:
            return
        bounds = [*map(str, family.bounds), "+Inf"]
        buckets = list(zip(bounds, accumulate(counts), strict=True))
        metric.add_metric(list(labels), buckets=buckets, sum_value=total_s)
    elif isinstance(metric, CounterMetricFamily | GaugeMetricFamily):
        metric.add_metric(list(labels), numbers[0])
