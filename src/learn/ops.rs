//! Operations with a gradient of their own: products with matrices that stay as they are, layer norm
//! and the activation. The gradient that the library would work out by itself also holds that of the
//! matrices, twice the time and the memory.

use candle_core::{
    CpuStorage, CustomOp1, CustomOp2, CustomOp3, Device, Layout, Result, Shape, Tensor, bail,
};

/// What is added to the variance (Whisper).
const EPSILON: f32 = 1e-5;
/// √(2/π), of the activation's approximation (Hendrycks, Gimpel 2016, section 2).
const ROOT: f32 = 0.797_884_6;
const CUBE: f32 = 0.044_715;

/// The numbers of an argument, which the forward passes below always give contiguous.
fn numbers<'a>(storage: &'a CpuStorage, layout: &Layout) -> Result<&'a [f32]> {
    match layout.contiguous_offsets() {
        Some((from, to)) => Ok(&storage.as_slice::<f32>()?[from..to]),
        None => bail!("an argument is not contiguous"),
    }
}

fn flat(tensor: &Tensor) -> Result<Vec<f32>> {
    tensor.flatten_all()?.to_vec1()
}

/// x·Wᵀ of a matrix that is not trained: rows of outputs.
#[derive(Clone)]
pub(super) struct Frozen(pub(super) Tensor);

impl Frozen {
    fn product(&self, storage: &CpuStorage, layout: &Layout) -> Result<(Vec<f32>, Shape)> {
        let x = Tensor::from_slice(numbers(storage, layout)?, layout.shape(), &Device::Cpu)?;
        let y = x.matmul(&self.0.t()?)?;
        Ok((flat(&y)?, y.shape().clone()))
    }

    /// x·Wᵀ.
    pub(super) fn of(&self, x: &Tensor) -> Result<Tensor> {
        x.contiguous()?.apply_op1(self.clone())
    }

    /// x·Wᵀ + b.
    pub(super) fn plus(&self, x: &Tensor, bias: &Tensor) -> Result<Tensor> {
        x.contiguous()?.apply_op2(bias, self.clone())
    }
}

impl CustomOp1 for Frozen {
    fn name(&self) -> &'static str {
        "frozen"
    }

    fn cpu_fwd(&self, x: &CpuStorage, layout: &Layout) -> Result<(CpuStorage, Shape)> {
        let (y, shape) = self.product(x, layout)?;
        Ok((CpuStorage::F32(y), shape))
    }

    fn bwd(&self, _: &Tensor, _: &Tensor, grad: &Tensor) -> Result<Option<Tensor>> {
        grad.contiguous()?.matmul(&self.0).map(Some)
    }
}

impl CustomOp2 for Frozen {
    fn name(&self) -> &'static str {
        "frozen, with a bias"
    }

    fn cpu_fwd(
        &self,
        x: &CpuStorage,
        layout: &Layout,
        bias: &CpuStorage,
        bias_layout: &Layout,
    ) -> Result<(CpuStorage, Shape)> {
        let (mut y, shape) = self.product(x, layout)?;
        let bias = numbers(bias, bias_layout)?;
        for row in y.chunks_exact_mut(bias.len()) {
            row.iter_mut().zip(bias).for_each(|(y, b)| *y += b);
        }
        Ok((CpuStorage::F32(y), shape))
    }

    fn bwd(
        &self,
        _: &Tensor,
        _: &Tensor,
        _: &Tensor,
        grad: &Tensor,
    ) -> Result<(Option<Tensor>, Option<Tensor>)> {
        let grad = grad.contiguous()?;
        Ok((Some(grad.matmul(&self.0)?), Some(grad.sum(0)?)))
    }
}

/// Layer norm over the columns, scaled and shifted.
pub(super) struct Norm;

/// Mean and one over the standard deviation of a row.
fn moments(row: &[f32]) -> (f32, f32) {
    let n = row.len() as f32;
    let mean = row.iter().sum::<f32>() / n;
    let variance = row.iter().map(|x| (x - mean) * (x - mean)).sum::<f32>() / n;
    (mean, 1.0 / (variance + EPSILON).sqrt())
}

impl CustomOp3 for Norm {
    fn name(&self) -> &'static str {
        "layer norm"
    }

    fn cpu_fwd(
        &self,
        x: &CpuStorage,
        layout: &Layout,
        scale: &CpuStorage,
        scale_layout: &Layout,
        shift: &CpuStorage,
        shift_layout: &Layout,
    ) -> Result<(CpuStorage, Shape)> {
        let (scale, shift) = (numbers(scale, scale_layout)?, numbers(shift, shift_layout)?);
        let mut y = numbers(x, layout)?.to_vec();
        for row in y.chunks_exact_mut(scale.len()) {
            let (mean, over) = moments(row);
            for ((y, scale), shift) in row.iter_mut().zip(scale).zip(shift) {
                *y = (*y - mean) * over * scale + shift;
            }
        }
        Ok((CpuStorage::F32(y), layout.shape().clone()))
    }

    fn bwd(
        &self,
        x: &Tensor,
        scale: &Tensor,
        _: &Tensor,
        _: &Tensor,
        grad: &Tensor,
    ) -> Result<(Option<Tensor>, Option<Tensor>, Option<Tensor>)> {
        let shape = x.shape();
        let (x, scale, mut grad) = (flat(x)?, flat(scale)?, flat(grad)?);
        let width = scale.len();
        let (mut of_scale, mut of_shift) = (vec![0.0; width], vec![0.0; width]);
        let mut plain = vec![0.0; width];
        for (x, grad) in x.chunks_exact(width).zip(grad.chunks_exact_mut(width)) {
            let (mean, over) = moments(x);
            let (mut sum, mut product) = (0.0, 0.0);
            for i in 0..width {
                plain[i] = (x[i] - mean) * over;
                of_shift[i] += grad[i];
                of_scale[i] += grad[i] * plain[i];
                grad[i] *= scale[i];
                sum += grad[i];
                product += grad[i] * plain[i];
            }
            let (sum, product) = (sum / width as f32, product / width as f32);
            for (grad, plain) in grad.iter_mut().zip(&plain) {
                *grad = over * (*grad - sum - plain * product);
            }
        }
        let row = |of: Vec<f32>| Tensor::from_vec(of, width, &Device::Cpu).map(Some);
        let of_x = Tensor::from_vec(grad, shape, &Device::Cpu)?;
        Ok((Some(of_x), row(of_scale)?, row(of_shift)?))
    }
}

/// The activation, by the approximation that whisper.cpp takes.
pub(super) struct Gelu;

fn inner(x: f32) -> f32 {
    (ROOT * x * (1.0 + CUBE * x * x)).tanh()
}

impl CustomOp1 for Gelu {
    fn name(&self) -> &'static str {
        "gelu"
    }

    fn cpu_fwd(&self, x: &CpuStorage, layout: &Layout) -> Result<(CpuStorage, Shape)> {
        let y = numbers(x, layout)?;
        let y = y.iter().map(|&x| 0.5 * x * (1.0 + inner(x))).collect();
        Ok((CpuStorage::F32(y), layout.shape().clone()))
    }

    fn bwd(&self, x: &Tensor, _: &Tensor, grad: &Tensor) -> Result<Option<Tensor>> {
        let mut of_x = flat(grad)?;
        for (grad, x) in of_x.iter_mut().zip(flat(x)?) {
            let t = inner(x);
            let slope = ROOT * (1.0 + 3.0 * CUBE * x * x);
            *grad *= 0.5 * (1.0 + t) + 0.5 * x * (1.0 - t * t) * slope;
        }
        Tensor::from_vec(of_x, x.shape(), &Device::Cpu).map(Some)
    }
}

#[cfg(test)]
mod tests {
    #![allow(clippy::unwrap_used)]
    use super::*;
    use crate::grammar::Dice;
    use candle_core::Var;

    fn some(shape: &[usize], seed: u64) -> Tensor {
        let mut dice = Dice::new(seed);
        let count = shape.iter().product();
        let all = (0..count).map(|_| dice.below(2001) as f32 / 1000.0 - 1.0);
        Tensor::from_vec(all.collect::<Vec<f32>>(), shape, &Device::Cpu).unwrap()
    }

    /// The gradient of each number against the difference that a small change of it makes.
    fn check(of: &dyn Fn(&[Tensor]) -> Tensor, arguments: &[Tensor]) {
        let weigh = |y: &Tensor| (y * some(y.dims(), 99)).unwrap().sum_all().unwrap();
        let vars: Vec<Var> = (arguments.iter().map(Var::from_tensor))
            .collect::<Result<_>>()
            .unwrap();
        let tensors: Vec<Tensor> = vars.iter().map(|v| v.as_tensor().clone()).collect();
        let grads = weigh(&of(&tensors)).backward().unwrap();
        for (at, var) in vars.iter().enumerate() {
            let found = flat(grads.get(var).unwrap()).unwrap();
            let start = flat(&arguments[at]).unwrap();
            for i in 0..start.len() {
                let mut ends = [0.0_f32; 2];
                for (end, step) in ends.iter_mut().zip([1e-2_f32, -1e-2]) {
                    let mut moved = start.clone();
                    moved[i] += step;
                    let mut all = arguments.to_vec();
                    all[at] = Tensor::from_vec(moved, all[at].dims(), &Device::Cpu).unwrap();
                    *end = weigh(&of(&all)).to_scalar().unwrap();
                }
                let wanted = (ends[0] - ends[1]) / 2e-2;
                let near = (found[i] - wanted).abs() < 2e-2 * (1.0 + wanted.abs());
                assert!(near, "argument {at}, number {i}: {} for {wanted}", found[i]);
            }
        }
    }

    #[test]
    fn gradients_are_those_of_small_changes() {
        let (x, w) = (some(&[3, 4], 1), Frozen(some(&[5, 4], 2)));
        check(&|a| w.of(&a[0]).unwrap(), std::slice::from_ref(&x));
        check(
            &|a| w.plus(&a[0], &a[1]).unwrap(),
            &[x.clone(), some(&[5], 3)],
        );
        let norm = |a: &[Tensor]| a[0].apply_op3(&a[1], &a[2], Norm).unwrap();
        check(&norm, &[x.clone(), some(&[4], 4), some(&[4], 5)]);
        check(&|a| a[0].apply_op1(Gelu).unwrap(), &[x]);
    }
}
