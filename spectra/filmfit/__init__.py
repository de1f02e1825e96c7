"""Film fit: one joint inference of a coating on a sample, with the fate of each of its bands.

In: a sample's mean, the variation, the coating's constants or neat spectrum. Out: an Account.
"""
