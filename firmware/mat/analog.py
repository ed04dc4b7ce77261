# An analogue input over the whole range of the supply, whatever the chip.
from machine import ADC, Pin


def reader(pin: int) -> ADC:
    """The converter behind a pin; a pull on the pin is taken off."""
    adc = ADC(Pin(pin))
    whole = getattr(ADC, "ATTN_11DB", None)
    if whole is not None:  # an ESP32 reads 1 V at most without it
        getattr(adc, "atten")(whole)  # by name: the types are those of the Pico
    return adc
