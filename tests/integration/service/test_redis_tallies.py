"""Tallies of all machines' web processes, in the real Redis, and while it is away."""

from __future__ import annotations

import redis

from service.runtime.limits.tallies import open_tallies
from service.runtime.limits.tallies.guarded import GuardedTallies
from service.runtime.limits.tallies.redis_tallies import RedisTallies
from tests.integration.conftest import RedisServer
from tests.tallies import ONE, add, amount, check_contract
from worker.settings import Settings


def test_they_are_shared_and_expire(redis_server: RedisServer) -> None:
    first, second = RedisTallies(redis_server.url), RedisTallies(redis_server.url)
    check_contract(first, second)
    with redis.Redis(port=redis_server.port) as client:
        (key,) = client.keys("ricalco:limits:*")
        assert 0 < client.ttl(key) <= 600
    for tallies in (first, second):
        tallies.close()


def test_while_redis_is_away_each_process_counts_alone(redis_server: RedisServer) -> None:
    shared = RedisTallies(redis_server.url)
    guarded = GuardedTallies(shared)
    assert add(guarded, ONE) == 0.0
    redis_server.kill()
    assert add(guarded, ONE) == 0.0
    assert add(guarded, ONE) == 1.0
    redis_server.start()
    # It tries again when its pause is over.
    guarded._again_s = 0.0
    assert add(guarded, ONE) == 1.0
    shared.close()


def test_a_service_with_a_broker_uses_it(redis_server: RedisServer, tmp_path: object) -> None:
    settings = Settings.from_env(
        {"RICALCO_DATA_DIR": str(tmp_path), "RICALCO_BROKER_URL": redis_server.url}
    )
    add(open_tallies(settings), ONE)
    assert amount(RedisTallies(redis_server.url), ONE) == 1.0
