"""Train the bead-pixel network on drawn heaps: ``python -m synthetic.train_heaps OUT.onnx``.

Needs torch and onnx (extra ``[train]``); what is trained needs neither. Every heap comes from a seed, so the
set is the same each time; the heaps it is tried on have seeds of their own.

Two cores take about an hour and a half, reckoned from what a step (1.0 to 1.5 s) and a drawing (0.05 s) take
of processor time there. The weights shipped were learnt by the same steps on a
graphics processor, in 2.3 minutes.
"""

from __future__ import annotations

import argparse
import io
import os
import time
from multiprocessing import Pool
from pathlib import Path

import numpy as np
import torch
from torch import nn

from analyser.tray.bead_pixels import features
from synthetic.heaps import draw

TRAINED_ON, TRIED_ON = 12_000, 400
EPOCHS, BATCH, FASTEST = 14, 16, 3e-3


class Network(nn.Module):
    """A U-Net (Ronneberger 2015) whose first step halves the picture: six features in, one logit out."""

    def __init__(self) -> None:
        super().__init__()
        self.halved = nn.Sequential(_block(6, 16, 5, 2), _block(16, 16))
        self.quarter = nn.Sequential(_block(16, 32, 3, 2), _block(32, 32))
        self.eighth = nn.Sequential(_block(32, 48, 3, 2), _block(48, 48))
        self.sixteenth = nn.Sequential(_block(48, 64, 3, 2), _block(64, 64), _block(64, 64))
        self.to_eighth = _block(64 + 48, 48)
        self.to_quarter = _block(48 + 32, 32)
        self.to_half = _block(32 + 16, 16)
        self.to_whole = nn.Sequential(_block(16 + 6, 8), nn.Conv2d(8, 1, 1))
        self.larger = nn.Upsample(scale_factor=2, mode="nearest")

    def forward(self, seen: torch.Tensor) -> torch.Tensor:
        """Logits, shape (n, 1, side, side), of features, shape (n, 6, side, side)."""
        halved = self.halved(seen)
        quarter = self.quarter(halved)
        eighth = self.eighth(quarter)
        now = self.to_eighth(torch.cat([self.larger(self.sixteenth(eighth)), eighth], 1))
        now = self.to_quarter(torch.cat([self.larger(now), quarter], 1))
        now = self.to_half(torch.cat([self.larger(now), halved], 1))
        return self.to_whole(torch.cat([self.larger(now), seen], 1))


def _block(inputs: int, outputs: int, side: int = 3, step: int = 1) -> nn.Sequential:
    convolution = nn.Conv2d(inputs, outputs, side, step, side // 2, bias=False)
    return nn.Sequential(convolution, nn.BatchNorm2d(outputs), nn.ReLU())


def _example(seed: int) -> tuple[np.ndarray, np.ndarray]:
    picture = draw(np.random.default_rng([seed, 7]))
    return features(picture.linear).astype(np.float16).transpose(2, 0, 1), picture.beads


def _examples(first: int, count: int, workers: int) -> tuple[torch.Tensor, torch.Tensor]:
    with Pool(workers) as pool:
        seen, beads = zip(*pool.imap(_example, range(first, first + count), chunksize=16), strict=True)
    return torch.from_numpy(np.stack(seen)), torch.from_numpy(np.stack(beads))


def main() -> None:
    """Draw, train, try, write."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("out", type=Path)
    parser.add_argument("--examples", type=int, default=TRAINED_ON)
    parser.add_argument("--epochs", type=int, default=EPOCHS)
    options = parser.parse_args()
    start = time.monotonic()
    workers = len(os.sched_getaffinity(0))
    tried, tried_beads = _examples(1_000_000, TRIED_ON, workers)
    seen, beads = _examples(0, options.examples, workers)
    print(f"{len(seen)} heaps drawn after {time.monotonic() - start:.0f} s", flush=True)
    device = "cuda" if torch.cuda.is_available() else "cpu"
    torch.manual_seed(1)
    network = Network().to(device, memory_format=torch.channels_last)
    rates = torch.optim.AdamW(network.parameters(), FASTEST, weight_decay=1e-4)
    steps = options.epochs * (len(seen) // BATCH)
    schedule = torch.optim.lr_scheduler.OneCycleLR(rates, FASTEST, steps)
    for epoch in range(options.epochs):
        network.train()
        total = 0.0
        for which in torch.randperm(len(seen))[: len(seen) // BATCH * BATCH].reshape(-1, BATCH):
            one, truth = seen[which].to(device).float(), beads[which].to(device).float()[:, None]
            turn, mirror = int(torch.randint(4, ())), bool(torch.randint(2, ()))
            one, truth = (torch.rot90(part, turn, (2, 3)) for part in (one, truth))
            if mirror:
                one, truth = one.flip(3), truth.flip(3)
            loss = nn.functional.binary_cross_entropy_with_logits(network(one), truth)
            rates.zero_grad()
            loss.backward()
            rates.step()
            schedule.step()
            total += float(loss.detach())
        overlap = _overlap(network, tried, tried_beads, device)
        print(
            f"epoch {epoch + 1}: loss {total * BATCH / len(seen):.4f}, overlap on others {overlap:.4f}, "
            f"{time.monotonic() - start:.0f} s",
            flush=True,
        )
    network.eval().cpu()
    written = io.BytesIO()
    torch.onnx.export(network, (torch.zeros(1, 6, *seen.shape[2:]),), written, opset_version=13, dynamo=False)
    options.out.write_bytes(written.getvalue())


@torch.no_grad()
def _overlap(network: Network, seen: torch.Tensor, beads: torch.Tensor, device: str) -> float:
    """Mean intersection over union of told and true bead pixels."""
    network.eval()
    overlaps = []
    for at in range(0, len(seen), BATCH):
        told = (network(seen[at : at + BATCH].to(device).float()) > 0)[:, 0].cpu()
        truth = beads[at : at + BATCH]
        overlaps.append((told & truth).sum((1, 2)) / (told | truth).sum((1, 2)))
    return float(torch.cat(overlaps).mean())


if __name__ == "__main__":
    main()
