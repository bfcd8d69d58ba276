"""What stands on the ground and may raise a skyline: trees and buildings."""
