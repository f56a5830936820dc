using Traceability.Verifier;
using Traceability.Verifier.Witness;

using var stop = new CancellationTokenSource();
Console.CancelKeyPress += (_, e) =>
{
    e.Cancel = true;
    stop.Cancel();
};
return args is ["witness", .. var rest]
    ? WitnessCommand.Run(rest, Console.Out, Console.Error, TimeProvider.System, stop.Token)
    : Command.Run(args, Console.Out, Console.Error);
