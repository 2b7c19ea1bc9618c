"""What any picture needs: regions, gradients, downscaling, encoding."""
