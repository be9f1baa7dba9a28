"""One lateral at a time, one piece after another, from a guessed tail: a second way to solve."""

from __future__ import annotations

import math


def slow_branch(pieces_m, rises_m, emitters, barbs, diameter_m, inlet_head_m, emitter, friction):
    """Pressure heads from the inlet to the tail, and the flow in: the tail's head is halved upon. [m]"""

    def marched(tail_m):
        flow, head, heads = 0.0, tail_m, []
        for i in range(len(pieces_m) - 1, -1, -1):
            heads.append(head)
            flow += emitters[i] * out_l_h(head, emitter) / 3.6e6
            below = rises_m[i - 1] if i else 0.0
            head += lost_m(flow, pieces_m[i], barbs[i], diameter_m, friction) + rises_m[i] - below
        return head, heads[::-1], flow

    low = high = inlet_head_m
    while marched(low)[0] > inlet_head_m:
        low -= 10.0
    while marched(high)[0] < inlet_head_m:
        high += 10.0
    for _ in range(80):
        middle = (low + high) / 2
        low, high = (middle, high) if marched(middle)[0] < inlet_head_m else (low, middle)
    return marched(high)[1:]


def out_l_h(head_m, emitter):
    """Flow of one emitter: its law, a straight line below 0.1 m, nothing below 0. [L/h]"""
    scale = emitter.nominal_l_h / emitter.nominal_head_m**emitter.exponent
    if head_m >= 0.1:
        return scale * head_m**emitter.exponent
    return scale * 0.1**emitter.exponent * max(head_m, 0.0) / 0.1


def lost_m(flow_m3_s, length_m, barb, diameter_m, friction):
    """Head lost by Darcy and Weisbach, as printed in EPANET's manual. [m]"""
    if flow_m3_s <= 0:
        return 0.0
    speed = flow_m3_s / (math.pi / 4 * diameter_m**2)
    re = speed * diameter_m / friction.viscosity_m2_s
    rough = friction.roughness_m / diameter_m
    if re <= 2000:
        factor = 64 / re
    elif re >= 4000:
        factor = 0.25 / math.log10(rough / 3.7 + 5.74 / re**0.9) ** 2
    else:
        y2 = rough / 3.7 + 5.74 / 4000**0.9  # printed with Re; its end at 4,000 is meant
        y3 = -0.86859 * math.log(y2)
        fa = y3**-2
        fb = fa * (2 - 0.00514215 / (y2 * y3))
        r = re / 2000
        x4 = r * (0.032 - 3 * fa + 0.5 * fb)
        x3, x2 = -0.128 + 13 * fa - 2 * fb, 0.128 - 17 * fa + 2.5 * fb
        factor = 7 * fa - fb + r * (x2 + r * (x3 + x4))
    return (factor * length_m / diameter_m + barb) * speed**2 / (2 * friction.gravity_m_s2)
