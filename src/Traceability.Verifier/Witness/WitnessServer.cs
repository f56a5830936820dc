using System.Net;
using System.Text;

namespace Traceability.Verifier.Witness;

/// <summary>The witness over HTTP: logs send their checkpoints to it, anybody reads what it cosigned last.</summary>
internal static class WitnessServer
{
    private const int MostAtOnce = 16;

    // What the witness knows is compared and written in one step.
    private static readonly Lock s_turn = new();

    /// <summary>Serves until cancelled.</summary>
    /// <param name="listen">Address to listen on, as in <c>http://127.0.0.1:8090/</c>.</param>
    internal static async Task RunAsync(WitnessFolder witness, string listen, TimeProvider clock, TextWriter said, CancellationToken cancel)
    {
        using var listener = new HttpListener();
        listener.Prefixes.Add(listen.EndsWith('/') ? listen : listen + "/");
        listener.Start();
        await said.WriteLineAsync($"Witness {witness.Name} listens on {listen}");
        await using var stop = cancel.Register(listener.Stop);
        using var places = new SemaphoreSlim(MostAtOnce);
        while (!cancel.IsCancellationRequested)
        {
            try
            {
                await places.WaitAsync(cancel);
                var request = await listener.GetContextAsync();
                _ = HandleAsync(witness, request, clock, said, places, cancel);
            }
            catch (Exception e) when (cancel.IsCancellationRequested && e is HttpListenerException or ObjectDisposedException or OperationCanceledException)
            {
                return;
            }
        }
    }

    private static async Task HandleAsync(WitnessFolder witness, HttpListenerContext request, TimeProvider clock, TextWriter said, SemaphoreSlim places, CancellationToken cancel)
    {
        try
        {
            // Who sends slowly must not hold a place for good.
            using var patience = CancellationTokenSource.CreateLinkedTokenSource(cancel);
            patience.CancelAfter(TimeSpan.FromSeconds(10));
            await using var broken = patience.Token.Register(request.Response.Abort);
            var answer = await AnswerAsync(witness, request.Request, clock, patience.Token);
            await SendAsync(request.Response, answer, patience.Token);
            await said.WriteLineAsync($"{request.Request.HttpMethod} {Printable(request.Request.Url?.AbsolutePath)} {answer.Status}");
        }
        catch (Exception e) when (e is IOException or HttpListenerException or ObjectDisposedException or OperationCanceledException or InvalidOperationException)
        {
            await said.WriteLineAsync($"A request broke off: {e.Message}");
            request.Response.Abort();
        }
        finally
        {
            places.Release();
        }
    }

    private static string Printable(string? path) => new([.. (path ?? "").Take(120).Select(c => c is > ' ' and < '\u007f' ? c : '?')]);

    private static async Task<WitnessAnswer> AnswerAsync(WitnessFolder witness, HttpListenerRequest request, TimeProvider clock, CancellationToken cancel)
    {
        var path = request.Url?.AbsolutePath ?? "/";
        if (path == "/add-checkpoint")
        {
            if (request.HttpMethod != "POST")
            {
                return WitnessAnswer.Text(405, "Send POST.");
            }

            if (await BodyAsync(request, cancel) is not { } body)
            {
                return WitnessAnswer.Text(413, $"A request holds at most {AddCheckpoint.LargestRequest} bytes of UTF-8 text.");
            }

            lock (s_turn)
            {
                return AddCheckpoint.Answer(witness, body, clock.GetUtcNow().ToUnixTimeSeconds());
            }
        }

        var parts = path.Split('/', StringSplitOptions.RemoveEmptyEntries);
        return request.HttpMethod == "GET" && parts.Length == 2 && parts[1] == "checkpoint" && witness.LatestByHash(parts[0]) is { } note
            ? new WitnessAnswer(200, "text/plain; charset=utf-8", note)
            : WitnessAnswer.Text(404, "Not here.");
    }

    private static async Task<string?> BodyAsync(HttpListenerRequest request, CancellationToken cancel)
    {
        using var body = new MemoryStream();
        var buffer = new byte[8192];
        int read;
        while ((read = await request.InputStream.ReadAsync(buffer, cancel)) > 0)
        {
            body.Write(buffer, 0, read);
            if (body.Length > AddCheckpoint.LargestRequest)
            {
                return null;
            }
        }

        try
        {
            return new UTF8Encoding(false, throwOnInvalidBytes: true).GetString(body.GetBuffer(), 0, (int)body.Length);
        }
        catch (ArgumentException)
        {
            return null;
        }
    }

    private static async Task SendAsync(HttpListenerResponse response, WitnessAnswer answer, CancellationToken cancel)
    {
        var bytes = Encoding.UTF8.GetBytes(answer.Body);
        response.StatusCode = answer.Status;
        response.ContentType = answer.Type;
        response.ContentLength64 = bytes.Length;
        await response.OutputStream.WriteAsync(bytes, cancel);
        response.Close();
    }
}
